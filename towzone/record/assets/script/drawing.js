/* What the chart shows: coast, zones, tracks, gear and rows, from the data of the page. */
towzone.drawing = (function () {
  "use strict";

  var element = towzone.base.element, drawing = towzone.base.drawing, positions = towzone.base.positions;

  function start(record) {
    var data = record.data, layer = record.layers.of;

    // For the placing of labels: words [{marker, span, layer, where}], pins by row number {marker, node, layer}.
    record.words = [];
    record.pins = {};

    function line(path, className, renderer, exact) {
      return L.polyline(path, {
        className: className, renderer: record.renderers[renderer], interactive: false,
        smoothFactor: exact ? 0 : 0.2, noClip: exact
      });
    }

    function area(rings, className, renderer) {
      return L.polygon(rings.map(positions), {
        className: className, renderer: record.renderers[renderer], interactive: false, smoothFactor: 0.2,
        fillRule: "evenodd"
      });
    }

    function mark(at, className, node, paneName) {
      return L.marker(at, {
        icon: L.divIcon({ className: className, html: node, iconSize: null }),
        interactive: false, keyboard: false, pane: paneName || "towzone-words"
      });
    }

    function word(at, className, text, layerName, where) {
      var span = element("span", "", text);
      var made = { marker: mark(at, "word " + className, span), span: span, layer: layerName, where: where };
      record.words.push(made);
      layer(layerName).addLayer(made.marker);
    }

    function drawCoast() {
      data.coast.land.forEach(function (rings) { layer("coast").addLayer(area(rings, "land", "coast")); });
      data.coast.shore.forEach(function (path) {
        layer("coast").addLayer(line(positions(path), "shore", "coast"));
      });
    }

    function drawZone(zone) {
      var group = layer("zone-" + zone.kind), name = "zone k-" + zone.kind + (zone.in_force ? "" : " off");
      zone.margin.forEach(function (rings) { layer("margins").addLayer(area(rings, "margin", "margins")); });
      zone.radius.forEach(function (rings) { group.addLayer(area(rings, name + " area", "zones")); });
      zone.areas.forEach(function (rings) { group.addLayer(area(rings, name + " area", "zones")); });
      zone.lines.forEach(function (path) { group.addLayer(line(positions(path), name + " line", "zones")); });
      zone.points.forEach(function (path) {
        group.addLayer(L.circleMarker(positions(path)[0], {
          className: name + " point", radius: 4, renderer: record.renderers.zones, interactive: false
        }));
      });
      zone.shapes = {
        areas: zone.areas.map(function (rings) { return positions(rings[0]); }),
        lines: zone.lines.map(positions)
      };
      word([zone.label[1] / 1e6, zone.label[0] / 1e6], "k-" + zone.kind, zone.name, "names", zone);
    }

    function drawTrack(track) {
      var name = "track t-" + track.kind, group = layer("track-" + track.kind);
      track.gaps.forEach(function (gap) {
        var path = positions(gap.path);
        layer("gaps").addLayer(line(path, "gap", "tracks", true));
        word(L.latLngBounds(path).getCenter(), "gap-word", gap.text, "gaps");
      });
      track.runs.forEach(function (run) {
        var path = positions(run.path);
        group.addLayer(path.length > 1 ? line(path, name + (run.tow === null ? "" : " tow"), "tracks") :
          L.circleMarker(path[0], { className: "lone-fix", radius: 2.5, renderer: record.renderers.tracks, interactive: false }));
      });
      track.marks.forEach(function (one) {
        var at = [one.at[1] / 1e6, one.at[0] / 1e6], arrow = drawing(18, 18, "arrow", "M9 1L14.5 15L9 12L3.5 15Z");
        arrow.style.transform = "rotate(" + Number(one.heading) + "deg)";
        group.addLayer(mark(at, "arrow-mark", arrow));
        if (one.text) { word(at, "tow-word", one.text, "names"); }
      });
    }

    function drawGear(gear) {
      var group = layer("gear");
      gear.corridor.forEach(function (rings) { group.addLayer(area(rings, "gear corridor", "gear")); });
      gear.likely.forEach(function (rings) { group.addLayer(area(rings, "gear likely", "gear")); });
      gear.paths.forEach(function (one) {
        group.addLayer(line(positions(one.path), "gear g-" + one.style, "gear"));
      });
    }

    function drawRow(row) {
      var group = layer(row.matters ? "findings" : "others"), path, node, pin;
      row.highlights.forEach(function (part) {
        layer("findings").addLayer(line(positions(part.path), "highlight " + part.kind, "findings", true));
      });
      if (row.line === null) { return; }
      path = positions(row.line);
      group.addLayer(line(path, "closest s-" + row.status, "findings", true));
      node = element("span");
      node.appendChild(element("b", "", String(row.number)));
      node.appendChild(element("i", "", row.label));
      pin = L.marker(path[0], {
        icon: L.divIcon({ className: "pin-mark s-" + row.status, html: node, iconSize: null }),
        pane: "towzone-pins", keyboard: true
      });
      pin.on("click", function () { record.emit("choose", { row: row.number }); });
      pin.on("add", function () {
        var own = pin.getElement();
        own.setAttribute("aria-label", "Row " + row.number + ": " + row.word + ", " + row.label);
        own.addEventListener("keydown", function (event) {
          if (event.key === "Enter" || event.key === " ") {
            event.preventDefault();
            record.emit("choose", { row: row.number });
          }
        });
      });
      record.pins[row.number] = { marker: pin, node: node, layer: row.matters ? "findings" : "others" };
      group.addLayer(pin);
    }

    record.draw = { line: line, area: area, mark: mark };
    drawCoast();
    data.zones.forEach(drawZone);
    data.tracks.forEach(drawTrack);
    (data.gear || []).forEach(drawGear);
    data.rows.forEach(drawRow);
  }

  return { start: start };
}());
