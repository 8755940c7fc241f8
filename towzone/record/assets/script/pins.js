/* Where the numbers of the rows stand: off the place they belong to, away from the zone, joined to it by a line. */
towzone.pins = (function () {
  "use strict";

  var SIDE = 24, ROUND = SIDE + 2; // pixels; a target for a finger or a mouse, WCAG 2.2 criterion 2.5.8
  var TURNS = [0, 45, -45, 90, -90, 135, -135, 180];
  var FAR = [26, 46, 68, 92];
  var MOST_PINS = 400; // with more, only those in view and in this number are made: own choice

  function middles(at, away) {
    var out = [];
    FAR.forEach(function (far) {
      TURNS.forEach(function (turn) {
        var angle = away + turn * Math.PI / 180;
        out.push([at.x + Math.cos(angle) * far, at.y + Math.sin(angle) * far]);
      });
    });
    return out;
  }

  function start(record) {
    var map = record.map, numbers = Object.keys(record.pins).map(Number).sort(function (a, b) { return a - b; });
    var few = numbers.filter(function (number) { return record.pins[number].row.matters; }).length <= MOST_PINS;

    function show(pin, on) {
      var group = record.layers.of(pin.layer);
      if (on && !group.hasLayer(pin.marker)) { group.addLayer(pin.marker); }
      if (!on && group.hasLayer(pin.marker)) { group.removeLayer(pin.marker); }
    }

    function stand(pin, at, middle) {
      var dx = middle[0] - at.x, dy = middle[1] - at.y, length = Math.sqrt(dx * dx + dy * dy) || 1;
      var reach = Math.max(length - SIDE / 2, 0) / length;
      var element = pin.marker.getElement(), half = SIDE / 2;
      if (!element) { return; }
      // The element is the number itself, so that what is pressed and what has the focus are one.
      element.style.marginLeft = (dx - half).toFixed(1) + "px";
      element.style.marginTop = (dy - half).toFixed(1) + "px";
      pin.leader.parentNode.style.transform = "translate(" + (half - dx).toFixed(1) + "px," +
        (half - dy).toFixed(1) + "px)";
      pin.leader.setAttribute("d", "M0 0L" + (dx * reach).toFixed(1) + " " + (dy * reach).toFixed(1));
    }

    // The chosen row first, so that it has the best place.
    function inOrder() {
      return numbers.filter(function (number) { return number === record.chosen; })
        .concat(numbers.filter(function (number) { return number !== record.chosen; }));
    }

    // All findings and undecided; of the others the chosen one, and those there is room for. The length of the
    // chosen one is put as soon as its number is.
    function place(sheet, frame, placed) {
      var count = 0;
      inOrder().forEach(function (number) {
        var pin = record.pins[number], ends, inView, away, all, middle;
        if (!record.layers.shown(pin.layer)) { return; }
        ends = pin.ends.map(function (end) { return map.latLngToContainerPoint(end); });
        inView = frame.contains(ends[0]);
        pin.middle = null;
        if (!inView) {
          show(pin, pin.row.matters && few);
          return;
        }
        count += 1;
        if (count > MOST_PINS) {
          show(pin, number === record.chosen);
          return;
        }
        away = ends[0].equals(ends[1]) ? -Math.PI / 2 : Math.atan2(ends[0].y - ends[1].y, ends[0].x - ends[1].x);
        all = middles(ends[0], away);
        middle = sheet.settle(all, ROUND, ROUND, towzone.ink.THICK);
        show(pin, Boolean(middle) || pin.row.matters || number === record.chosen);
        pin.middle = middle || (pin.row.matters || number === record.chosen ? all[0] : null);
        stand(pin, ends[0], middle || all[0]);
        if (number === record.chosen) { placed(pin); }
      });
    }

    record.placePins = place;
  }

  return { start: start };
}());
