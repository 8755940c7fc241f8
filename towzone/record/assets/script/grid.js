/* Graticule: meridians and parallels with their words, drawn anew for every view. */
towzone.grid = (function () {
  "use strict";

  var STEPS = [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600]; // minutes
  var MOST_LATITUDE = 85; // degrees; a Mercator chart ends there
  var element = towzone.base.element;

  function angleText(degrees, sides) {
    var hundredths = Math.round(Math.abs(degrees) * 6000);
    var whole = Math.floor(hundredths / 6000), rest = hundredths - whole * 6000;
    var side = degrees === 0 ? "" : sides.charAt(degrees > 0 ? 0 : 1);
    var minutes = rest / 100;
    if (rest === 0) { return whole + "°" + side; }
    return whole + "°" + (minutes < 10 ? "0" : "") + String(+minutes.toFixed(2)) + "'" + side;
  }

  function longitudeText(degrees) {
    var lon = ((degrees + 180) % 360 + 360) % 360 - 180;
    return Math.abs(Math.abs(lon) - 180) < 1e-9 ? "180°" : angleText(lon, "EW");
  }

  // Degrees between two lines so that there are at most so many; doubled on where the list ends.
  function gridStep(spanDegrees, most) {
    var i = 0, step = STEPS[0];
    while (spanDegrees * 60 / step > most) {
      i += 1;
      step = i < STEPS.length ? STEPS[i] : step * 2;
    }
    return step / 60;
  }

  function values(from, to, most) {
    var step = gridStep(to - from, most), out = [], i;
    for (i = Math.ceil(from / step); i * step <= to; i += 1) { out.push(i * step); }
    return out;
  }

  function start(record) {
    var map = record.map, group = record.layers.of("grid"), words = L.layerGroup();

    function word(left, top, text) {
      words.addLayer(record.draw.mark(map.containerPointToLatLng([left, top]), "word grid-word",
        element("span", "", text)));
      record.sheet.box(left, top, 64, 17, towzone.ink.TAKEN);
    }

    function draw() {
      var view = map.getBounds(), size = map.getSize(), west = view.getWest(), east = view.getEast();
      var south = Math.max(view.getSouth(), -MOST_LATITUDE), north = Math.min(view.getNorth(), MOST_LATITUDE);
      var lines = [];
      group.clearLayers();
      words.clearLayers();
      if (!record.layers.shown("grid")) { return; }
      values(west, east, Math.max(size.x / 120, 2)).forEach(function (lon) {
        var at = map.latLngToContainerPoint([south, lon]);
        lines.push([[south, lon], [north, lon]]);
        if (at.x > 2 && at.x < size.x - 72) { word(at.x + 3, size.y - 19, longitudeText(lon)); }
      });
      values(south, north, Math.max(size.y / 100, 2)).forEach(function (lat) {
        var at = map.latLngToContainerPoint([lat, west]);
        lines.push([[lat, west], [lat, east]]);
        if (at.y > 22 && at.y < size.y - 90) { word(4, at.y - 18, angleText(lat, "NS")); }
      });
      group.addLayer(record.draw.line(lines, "grid", "grid"));
      group.addLayer(words);
    }

    record.on("edges", draw);
  }

  return { start: start, angleText: angleText, longitudeText: longitudeText, values: values };
}());
