/* Choosing a row or a tow: from the table to the chart and back, and one after the other. */
towzone.selection = (function () {
  "use strict";

  var CLOSEST_ZOOM = 16;
  var positions = towzone.base.positions, box = towzone.base.box, all = towzone.base.all;

  // The place of a zone nearest to another place, in a plane: for choosing a view only. Null for a zone not drawn.
  function nearPart(zone, to) {
    var scale = Math.cos(to.lat * Math.PI / 180), best = null, least = Infinity;

    function piece(p, q) {
      var dx = (q[1] - p[1]) * scale, dy = q[0] - p[0], x = (to.lng - p[1]) * scale, y = to.lat - p[0];
      var size = dx * dx + dy * dy, t = size ? Math.min(Math.max((x * dx + y * dy) / size, 0), 1) : 0;
      var far = (x - t * dx) * (x - t * dx) + (y - t * dy) * (y - t * dy);
      if (far < least) {
        least = far;
        best = [p[0] + t * dy, p[1] + t * (q[1] - p[1])];
      }
    }

    zone.areas.concat(zone.radius, [zone.lines], [zone.points]).forEach(function (paths, i, groups) {
      paths.forEach(function (path) {
        var corners = positions(path), ring = i < groups.length - 2;
        corners.forEach(function (p, k) { piece(p, corners[k + 1] || (ring ? corners[0] : p)); });
      });
    });
    return best;
  }

  function start(record) {
    var map = record.map, data = record.data, chart = record.chart, line = record.draw.line;
    var marks = L.layerGroup().addTo(map), order;
    var told = document.getElementById("chosen"), toRow = document.getElementById("to-row");
    var part = document.querySelector(".chart-part");
    var previous = document.getElementById("previous"), next = document.getElementById("next");

    record.chosen = null;

    // Findings and undecided first; each in the order of the rows.
    order = data.rows.filter(function (row) { return row.matters; })
      .concat(data.rows.filter(function (row) { return !row.matters; }))
      .map(function (row) { return row.number; });

    function buttons(number) {
      return all("button.show[data-row='" + number + "'], button.show-row[data-row='" + number + "']");
    }

    function body(number) { return document.getElementById("row-" + number); }

    function fit(bounds) {
      map.fitBounds(bounds, { animate: false, maxZoom: CLOSEST_ZOOM, padding: [30, 30] });
      record.bringChart();
    }

    // From elsewhere on the page: chart and read-out into view, and the focus to the chart, so that its keys go on
    // from there. Keys are not heard all over the page: single letters there would stand in the way of others
    // (WCAG 2.2 criterion 2.1.4).
    function leadToChart(from) {
      if (part.contains(from)) { return; }
      record.handling.quietly(function () { chart.focus({ preventScroll: true }); });
      record.bringBoth();
    }

    function whole() { map.fitBounds(box(data.view), { animate: false }); }

    function gapOf(row) {
      var gap = row.gap === null ? null : data.tracks[row.track].gaps[row.gap], fixes;
      if (gap === null) { return null; }
      fixes = record.courses[row.track].fixes;
      return {
        ends: [fixes[gap.fix], fixes[gap.fix + 1]], ellipse: gap.ellipse,
        bounds: L.latLngBounds(gap.ellipse ? positions(gap.ellipse) : [fixes[gap.fix], fixes[gap.fix + 1]])
      };
    }

    function boundsOf(row) {
      var zone = row.zone === null ? null : data.zones[row.zone], bounds = L.latLngBounds([]), gap = gapOf(row), near;
      if (row.line !== null) { return L.latLngBounds(positions(row.line)).pad(0.8); }
      if (gap !== null) {
        near = zone === null ? null : nearPart(zone, gap.bounds.getCenter());
        return (near ? gap.bounds.extend(near) : gap.bounds).pad(0.15);
      }
      if (zone !== null) {
        zone.shapes.areas.concat(zone.shapes.lines).forEach(function (shape) { bounds.extend(shape.getBounds()); });
        zone.shapes.points.forEach(function (at) { bounds.extend(at); });
      }
      return (bounds.isValid() ? bounds : box(data.view)).pad(0.8);
    }

    function press(number, on) {
      buttons(number).forEach(function (one) { one.setAttribute("aria-pressed", String(on)); });
      if (body(number)) { body(number).classList.toggle("picked", on); }
    }

    // The ends stay in the order of tabs, so that the focus is not lost on them.
    function ends() {
      var place = order.indexOf(record.chosen);
      previous.setAttribute("aria-disabled", String(place < 0 ? order.length === 0 : place === 0));
      next.setAttribute("aria-disabled", String(place === order.length - 1));
    }

    function unmark() {
      var pin = record.pins[record.chosen];
      if (pin && pin.marker.getElement()) { pin.marker.getElement().classList.remove("picked"); }
      if (pin) { pin.marker.setZIndexOffset(0); }
      marks.clearLayers();
    }

    function release() {
      if (record.chosen === null) { return; }
      press(record.chosen, false);
      unmark();
      record.chosen = null;
      told.textContent = record.say("chart.choose");
      toRow.hidden = true;
      ends();
      record.emit("row", { row: null });
    }

    function mark(row) {
      var pin = record.pins[row.number], gap = gapOf(row);
      if (gap !== null) {
        record.layers.turn("ellipses", true);
        marks.addLayer(line(gap.ends, "chosen-line", "findings", true));
        if (gap.ellipse) { marks.addLayer(record.draw.area([gap.ellipse], "chosen-gap", "findings")); }
      }
      if (row.line !== null) { marks.addLayer(line(positions(row.line), "chosen-line", "findings", true)); }
      if (!pin) { return; }
      record.layers.turn(pin.layer, true);
      if (pin.marker.getElement()) { pin.marker.getElement().classList.add("picked"); }
      pin.marker.setZIndexOffset(10000);
    }

    function choose(number, move) {
      var row = data.rows[number - 1];
      if (!row) { return; }
      if (record.chosen !== null) { press(record.chosen, false); unmark(); }
      record.chosen = number;
      press(number, true);
      if (move) { fit(boundsOf(row)); }
      mark(row);
      told.textContent = record.say("chart.chosen", { number: number, word: row.word, text: row.text });
      record.tell(record.say("chart.pin", { number: number, word: row.word, label: row.label }));
      toRow.hidden = false;
      ends();
      record.emit("row", { row: number });
    }

    function step(by) {
      var place = order.indexOf(record.chosen);
      if (!order.length) { return; }
      choose(order[place < 0 ? 0 : Math.max(0, Math.min(order.length - 1, place + by))], true);
    }

    function showTow(trackIndex, tow) {
      var track = data.tracks[trackIndex], course = record.courses[trackIndex], bounds, found;
      if (!track || !course.fixes.length) { return; }
      found = (track.tows || []).filter(function (one) { return one.tow === tow; })[0];
      bounds = L.latLngBounds(found ? course.fixes.slice(found.first, found.last + 1) : course.fixes);
      fit(bounds.pad(0.1));
      record.tell(found ? record.say("chart.tow", { tow: tow }) : track.name);
    }

    function clicked(event) {
      var one = event.target.closest ? event.target.closest("button") : null;
      if (!one) { return; }
      if (one.classList.contains("show") || one.classList.contains("show-row")) {
        choose(Number(one.getAttribute("data-row")), true);
      } else if (one.classList.contains("show-tow")) {
        showTow(Number(one.getAttribute("data-track")), Number(one.getAttribute("data-tow")));
      } else { return; }
      leadToChart(one);
    }

    function toItsRow() {
      var own = buttons(record.chosen);
      if (body(record.chosen)) { body(record.chosen).scrollIntoView({ block: "center" }); }
      own = own.filter(function (one) {
        return body(record.chosen) && body(record.chosen).contains(one);
      })[0] || own[0];
      if (own) { own.focus(); }
    }

    document.addEventListener("click", clicked);
    previous.addEventListener("click", function () { step(-1); });
    next.addEventListener("click", function () { step(1); });
    document.getElementById("whole").addEventListener("click", function () { release(); whole(); });
    toRow.addEventListener("click", toItsRow);
    record.on("choose", function (detail) {
      if (detail.row === null) { release(); } else { choose(detail.row, Boolean(detail.move)); }
    });
    // A number that comes into being while its row is chosen is marked then.
    record.on("placed", function () {
      var pin = record.pins[record.chosen];
      if (pin && pin.marker.getElement()) { pin.marker.getElement().classList.add("picked"); }
    });
    record.keys.on("n", function () { step(1); });
    record.keys.on("p", function () { step(-1); });
    record.keys.on("Escape", release);
    record.whole = whole;
    record.fit = fit;
    ends();
  }

  return { start: start };
}());
