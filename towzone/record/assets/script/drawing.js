/* Coast, zones and gear. Tracks are drawn by courses.js, rows by rows.js. */
towzone.drawing = (function () {
  "use strict";

  var positions = towzone.base.positions, ink = towzone.ink;

  function start(record) {
    var data = record.data, layer = record.layers.of, line = record.draw.line, area = record.draw.area;

    // For the placing of words: {text, className, layer, most, middles} and {layer, value}, see labels.js.
    record.words = [];
    record.ink = [];

    function put(name, drawn, value) {
      layer(name).addLayer(drawn);
      if (value) { record.ink.push({ layer: drawn, value: value }); }
      return drawn;
    }

    function drawCoast() {
      data.coast.land.forEach(function (rings) { put("coast", area(rings, "land", "coast")); });
      data.coast.shore.forEach(function (path) { put("coast", line(positions(path), "shore", "coast")); });
    }

    function nameOf(zone) {
      var text = zone.outside ? record.say("chart.stay_inside", { name: zone.name }) : zone.name;
      return zone.in_force ? text : record.say("chart.not_in_force", { name: text });
    }

    function drawZone(zone, index) {
      var group = "zone-" + zone.kind, name = "zone k-" + zone.kind;
      name += (zone.in_force ? "" : " off") + (zone.outside ? " outside" : "");
      zone.margin.forEach(function (rings) {
        put("margins", area(rings, "margin m-" + zone.kind, "margins"), ink.SOFT);
      });
      zone.shapes = { areas: [], lines: [], points: zone.points.map(function (path) { return positions(path)[0]; }) };
      zone.areas.concat(zone.radius).forEach(function (rings) {
        zone.shapes.areas.push(put(group, area(rings, name + " area", "zones"), ink.LINE));
        if (zone.outside) { put(group, area(rings, "zone-core", "zones")); }
      });
      zone.lines.forEach(function (path) {
        zone.shapes.lines.push(put(group, line(positions(path), name + " line", "zones"), ink.LINE));
      });
      zone.shapes.points.forEach(function (at) {
        put(group, L.circleMarker(at, {
          className: name + " point", radius: 4, renderer: record.renderers.zones, interactive: false
        }));
      });
      record.words.push({
        text: nameOf(zone), className: "k-" + zone.kind, layer: "names", of: group,
        most: zone.areas.length ? ink.LINE : ink.SOFT, zone: zone, index: index
      });
    }

    function drawGear(gear) {
      var styles = {}, whose = gear.corrected ? " corrected" : "";
      gear.corridor.forEach(function (rings) { put("gear", area(rings, "gear corridor" + whose, "gear"), ink.SOFT); });
      gear.likely.forEach(function (rings) { put("likely", area(rings, "gear likely" + whose, "gear"), ink.SOFT); });
      gear.paths.forEach(function (one) {
        styles[one.style] = styles[one.style] || [];
        styles[one.style].push(positions(one.path));
      });
      Object.keys(styles).forEach(function (style) {
        put("parts", line(styles[style], "gear g-" + style + whose, "gear"), ink.SOFT);
      });
    }

    record.put = put;
    drawCoast();
    data.zones.forEach(drawZone);
    (data.gear || []).forEach(drawGear);
  }

  return { start: start };
}());
