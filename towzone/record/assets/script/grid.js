/* Graticule, scale of nautical miles, and north. */
towzone.grid = (function () {
  "use strict";

  var STEPS = [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800];
  var element = towzone.base.element, drawing = towzone.base.drawing;

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

  function gridStep(spanDegrees, most) {
    var i;
    for (i = 0; i < STEPS.length - 1; i += 1) {
      if (spanDegrees * 60 / STEPS[i] <= most) { return STEPS[i]; }
    }
    return STEPS[STEPS.length - 1];
  }

  function start(record) {
    var map = record.map, layer = record.layers.of, line = record.draw.line, mark = record.draw.mark;

    // Graticule: redrawn for every view, labels at the lower and left edge
    function drawGrid() {
      var group = layer("grid"), view = map.getBounds(), size = map.getSize();
      var south = view.getSouth(), north = view.getNorth(), west = view.getWest(), east = view.getEast();
      var step, i, value, at;
      group.clearLayers();
      step = gridStep(east - west, Math.max(size.x / 120, 2)) / 60;
      for (i = Math.ceil(west / step); i * step <= east; i += 1) {
        value = i * step;
        group.addLayer(line([[south, value], [north, value]], "grid", "grid"));
        at = map.latLngToContainerPoint([south, value]);
        if (at.x > 2 && at.x < size.x - 72) {
          group.addLayer(mark(map.containerPointToLatLng([at.x + 3, size.y - 19]), "word grid-word",
            element("span", "", longitudeText(value))));
        }
      }
      step = gridStep(north - south, Math.max(size.y / 100, 2)) / 60;
      for (i = Math.ceil(south / step); i * step <= north; i += 1) {
        value = i * step;
        group.addLayer(line([[value, west], [value, east]], "grid", "grid"));
        at = map.latLngToContainerPoint([value, west]);
        if (at.y > 22 && at.y < size.y - 70) {
          group.addLayer(mark(map.containerPointToLatLng([4, at.y - 18]), "word grid-word",
            element("span", "", angleText(value, "NS"))));
        }
      }
    }

    // Scale in nautical miles for the middle of the view, and north
    var scale = L.control({ position: "bottomleft" });
    scale.onAdd = function () {
      var node = element("div", "miles"), text = element("span"), bar = element("div");
      node.appendChild(text);
      node.appendChild(bar);
      function update() {
        var size = map.getSize(), y = size.y / 2, most = 130;
        var mile = map.distance(map.containerPointToLatLng([size.x / 2, y]),
          map.containerPointToLatLng([size.x / 2 + most, y])) / 1852;
        var power = Math.pow(10, Math.floor(Math.log(mile) / Math.LN10));
        var round = mile >= 5 * power ? 5 * power : mile >= 2 * power ? 2 * power : power;
        bar.style.width = (most * round / mile) + "px";
        text.textContent = String(+round.toFixed(4)) + " nmi";
      }
      map.on("moveend", update);
      update();
      return node;
    };
    var north = L.control({ position: "topright" });
    north.onAdd = function () {
      var node = element("div", "to-north");
      node.appendChild(drawing(16, 22, "north", "M8 0L15 21L8 16L1 21Z"));
      node.appendChild(element("span", "", "N"));
      return node;
    };

    layer("grid");
    scale.addTo(map);
    north.addTo(map);
    L.control.zoom({ position: "bottomright" }).addTo(map);
    map.on("moveend", drawGrid);
    record.on("ready", drawGrid);
  }

  return { start: start, angleText: angleText, longitudeText: longitudeText };
}());
