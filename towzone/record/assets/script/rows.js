/* The rows on the chart: stretches inside or too close, the closest approach with its length, and a number that
   stands off the place it belongs to: of an undecided row without a closest approach the gap that leaves it open. */
towzone.rows = (function () {
  "use strict";

  var element = towzone.base.element, shape = towzone.base.shape, positions = towzone.base.positions;
  var ink = towzone.ink;

  function start(record) {
    var data = record.data, put = record.put, line = record.draw.line;

    // Numbers by row: {marker, node, layer, ends}; for others there is no marker before it is shown.
    record.pins = {};

    function pathOf(row, part) {
      var course;
      if (part.path) { return positions(part.path); }
      course = record.courses[row.track];
      return positions(part.from).concat(part.first <= part.last ? course.stretch(part.first, part.last) : [],
        positions(part.to));
    }

    function highlight(row, part) {
      var path = pathOf(row, part);
      put("findings", line(path, "highlight " + part.kind, "findings", true), ink.TAKEN);
      if (part.kind === "inside") { put("findings", line(path, "highlight-core", "findings", true)); }
    }

    function choose(row) { record.emit("choose", { row: row.number, move: false }); }

    function pinOf(row, at) {
      var node = element("span"), leader = shape("svg", "leader"), path = shape("path"), dot = shape("circle"), pin;
      leader.setAttribute("width", 1);
      leader.setAttribute("height", 1);
      leader.setAttribute("aria-hidden", "true");
      dot.setAttribute("r", 3);
      leader.appendChild(path);
      leader.appendChild(dot);
      node.appendChild(leader);
      node.appendChild(element("b", "", String(row.number)));
      pin = L.marker(at, {
        icon: L.divIcon({ className: "pin-mark s-" + row.status, html: node, iconSize: null }),
        pane: "towzone-pins", keyboard: true
      });
      pin.on("click", function () { choose(row); });
      pin.on("add", function () {
        var own = pin.getElement();
        own.setAttribute("aria-label", record.say("chart.pin", {
          number: row.number, word: row.word, label: row.label
        }));
        if (own.towzoneHears) { return; }
        own.towzoneHears = true;
        own.addEventListener("keydown", function (event) {
          if (event.key === "Enter" || event.key === " ") {
            event.preventDefault();
            event.stopPropagation();
            choose(row);
          }
        });
      });
      return { marker: pin, node: node, leader: path };
    }

    // Both ends of what the number of a row belongs to; null where there is no such place.
    function endsOf(row) {
      var fixes, gap, middle = null;
      if (row.line !== null) { return positions(row.line); }
      if (row.gap !== null) {
        gap = data.tracks[row.track].gaps[row.gap];
        fixes = record.courses[row.track].fixes;
        middle = L.latLngBounds([fixes[gap.fix], fixes[gap.fix + 1]]).getCenter();
      } else if (row.matters && row.zone !== null) { middle = positions(data.zones[row.zone].label)[0]; }
      return middle && [middle, middle];
    }

    function drawRow(row) {
      var name = row.matters ? "findings" : "others", ends = endsOf(row), pin, at;
      row.highlights.forEach(function (part) { highlight(row, part); });
      if (row.likely_at) {
        at = [row.likely_at[1] / 1e6, row.likely_at[0] / 1e6];
        put(name, L.circleMarker(at, {
          className: "likely-at", radius: 6, renderer: record.renderers.findings, interactive: false
        }));
      }
      if (ends === null) { return; }
      if (row.line !== null) {
        put(name, line(ends, "closest s-" + row.status, "findings", true), row.matters ? ink.TAKEN : ink.LINE);
      }
      pin = pinOf(row, ends[0]);
      pin.layer = name;
      record.layers.of(name); // numbers alone make a layer, too
      pin.ends = ends;
      pin.row = row;
      record.pins[row.number] = pin;
      pin.word = {
        text: record.say("chart.length", { number: row.number, label: row.label }), layer: name, most: ink.LINE,
        className: "distance-word s-" + row.status, ends: ends, pin: pin
      };
      record.words.push(pin.word);
    }

    data.rows.forEach(drawRow);
  }

  return { start: start };
}());
