/* The interactive chart. Plain ECMAScript 5, started by towzoneRecord(map).
   All text from files is set as text, never as markup. */
(function () {
  "use strict";

  var root = document.documentElement;
  var SVG = "http://www.w3.org/2000/svg";
  var STEPS = [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800];
  var CLOSEST_ZOOM = 16;

  // If anything fails, the still chart comes back: it needs no script.
  window.addEventListener("error", function () { root.classList.remove("js"); });
  root.classList.add("js");

  function element(name, className, text) {
    var node = document.createElement(name);
    if (className) { node.className = className; }
    if (text !== undefined) { node.textContent = text; }
    return node;
  }

  function drawing(width, height, className, d) {
    var svg = document.createElementNS(SVG, "svg");
    var path = document.createElementNS(SVG, "path");
    svg.setAttribute("width", width);
    svg.setAttribute("height", height);
    svg.setAttribute("aria-hidden", "true");
    path.setAttribute("class", className);
    path.setAttribute("d", d);
    svg.appendChild(path);
    return svg;
  }

  // [lon, lat, step, step, ...] in millionths of a degree to [[lat, lon], ...] in degrees.
  function positions(steps) {
    var out = [], lon = 0, lat = 0, i;
    for (i = 0; i < steps.length; i += 2) {
      lon += steps[i];
      lat += steps[i + 1];
      out.push([lat / 1e6, lon / 1e6]);
    }
    return out;
  }

  function box(whole) {
    return L.latLngBounds([whole[1] / 1e6, whole[0] / 1e6], [whole[3] / 1e6, whole[2] / 1e6]);
  }

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

  function towzoneRecord(map) {
    var data = JSON.parse(document.getElementById("chart-data").textContent);
    var layers = {}, words = [], pins = {}, chosen = null, chosenLine = null;
    var chart = map.getContainer();

    // Layers, from the bottom up
    function pane(name, height) {
      map.createPane(name).style.zIndex = height;
      return L.svg({ pane: name, padding: 0.4 });
    }
    var renderers = {
      coast: pane("towzone-coast", 210), grid: pane("towzone-grid", 220), margins: pane("towzone-margins", 230),
      zones: pane("towzone-zones", 240), gear: pane("towzone-gear", 245), tracks: pane("towzone-tracks", 250),
      findings: pane("towzone-findings", 260)
    };
    map.createPane("towzone-words").style.zIndex = 270;
    map.createPane("towzone-pins").style.zIndex = 280;

    function layer(name) {
      if (!layers[name]) { layers[name] = L.layerGroup(); }
      return layers[name];
    }

    function line(path, className, renderer, exact) {
      return L.polyline(path, {
        className: className, renderer: renderers[renderer], interactive: false,
        smoothFactor: exact ? 0 : 0.2, noClip: exact
      });
    }

    function area(rings, className, renderer) {
      return L.polygon(rings.map(positions), {
        className: className, renderer: renderers[renderer], interactive: false, smoothFactor: 0.2, fillRule: "evenodd"
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
      words.push(made);
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
          className: name + " point", radius: 4, renderer: renderers.zones, interactive: false
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
          L.circleMarker(path[0], { className: "lone-fix", radius: 2.5, renderer: renderers.tracks, interactive: false }));
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
      pin.on("click", function () { choose(row.number, false); });
      pin.on("add", function () {
        var own = pin.getElement();
        own.setAttribute("aria-label", "Row " + row.number + ": " + row.word + ", " + row.label);
        own.addEventListener("keydown", function (event) {
          if (event.key === "Enter" || event.key === " ") {
            event.preventDefault();
            choose(row.number, false);
          }
        });
      });
      pins[row.number] = { marker: pin, node: node, layer: row.matters ? "findings" : "others" };
      group.addLayer(pin);
    }

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

    // Names: inside what can be seen of the zone, never over each other
    function centre(points) {
      var a = 0, x = 0, y = 0, i, p, q, cross;
      for (i = 0; i < points.length; i += 1) {
        p = points[i];
        q = points[(i + 1) % points.length];
        cross = p.x * q.y - q.x * p.y;
        a += cross;
        x += (p.x + q.x) * cross;
        y += (p.y + q.y) * cross;
      }
      return a === 0 ? points[0] : L.point(x / (3 * a), y / (3 * a));
    }

    function seen(zone, edge) {
      var best = null, most = 0;
      function toPoint(at) { return map.latLngToLayerPoint(at); }
      zone.shapes.areas.forEach(function (ring) {
        var clipped = L.PolyUtil.clipPolygon(ring.map(toPoint), edge, false), span;
        if (clipped.length > 2) {
          span = L.bounds(clipped).getSize();
          if (span.x * span.y > most) { most = span.x * span.y; best = centre(clipped); }
        }
      });
      if (best) { return best; }
      zone.shapes.lines.forEach(function (path) {
        var points = path.map(toPoint), parts = [], total = 0, i, part, run = 0;
        for (i = 1; i < points.length; i += 1) {
          part = L.LineUtil.clipSegment(points[i - 1], points[i], edge, false, false);
          if (part) { parts.push(part); total += part[0].distanceTo(part[1]); }
        }
        for (i = 0; i < parts.length && total > most; i += 1) {
          part = parts[i][0].distanceTo(parts[i][1]);
          if (run + part >= total / 2) {
            most = total;
            best = parts[i][0].add(parts[i][1].subtract(parts[i][0]).multiplyBy((total / 2 - run) / (part || 1)));
          }
          run += part;
        }
      });
      return best;
    }

    function free(taken, x, y, width, height) {
      return !taken.some(function (t) {
        return x < t[0] + t[2] && t[0] < x + width && y < t[1] + t[3] && t[1] < y + height;
      });
    }

    // The first free place among the tries [left, top], relative to a point; null when all are taken.
    function settle(taken, at, width, height, tries) {
      var i, x, y;
      for (i = 0; i < tries.length; i += 1) {
        x = at.x + tries[i][0];
        y = at.y + tries[i][1];
        if (free(taken, x, y, width, height)) {
          taken.push([x, y, width, height]);
          return tries[i];
        }
      }
      return null;
    }

    // A number stays at its point unless another is there; its length goes right or left of it, or is left out.
    function placePins(taken) {
      var shown = Object.keys(pins).map(function (number) { return pins[number]; })
        .filter(function (pin) { return map.hasLayer(layers[pin.layer]); });
      shown.forEach(function (pin) {
        var at = map.latLngToLayerPoint(pin.marker.getLatLng());
        var place = settle(taken, at, 22, 22, [[-11, -11], [-11, -34], [-11, 12], [-11, -57], [-11, 35]]);
        pin.shift = place ? place[1] + 11 : 0;
        pin.node.style.transform = "translate(0," + pin.shift + "px)";
      });
      shown.forEach(function (pin) {
        var label = pin.node.lastChild, width = label.offsetWidth;
        var at = map.latLngToLayerPoint(pin.marker.getLatLng()).add([0, pin.shift]);
        var right = map.latLngToContainerPoint(pin.marker.getLatLng()).x + 14 + width < map.getSize().x;
        var place = settle(taken, at, width, 20, right ? [[14, -10], [-14 - width, -10]] : [[-14 - width, -10]]);
        label.style.visibility = place ? "inherit" : "hidden";
        if (place) { label.style.left = place[0] + "px"; }
      });
    }

    // Only the name of something long may stand off a little; elsewhere it would point at the wrong thing.
    function tries(one, at) {
      var width = one.span.offsetWidth, size = map.getSize(), from = map.layerPointToContainerPoint(at);
      var left = -width / 2;
      if (!one.where || one.where.areas.length + one.where.lines.length === 0) {
        return [[left, 12], [left, -30], [14, -9], [-14 - width, -9], [14, 12], [-14 - width, 12], [14, -30],
          [-14 - width, -30], [left, 34]];
      }
      left += Math.min(0, size.x - 4 - (from.x + left + width));
      return [-9, -31, 13, -53, 35].map(function (top) { return [left, top]; }).filter(function (to) {
        return from.y + to[1] > 2 && from.y + to[1] + 18 < size.y - 20;
      });
    }

    // Where the scale, the zoom buttons and the north mark are
    function controls() {
      var frame = chart.getBoundingClientRect();
      return Array.prototype.map.call(chart.querySelectorAll(".leaflet-control"), function (node) {
        var own = node.getBoundingClientRect();
        var corner = map.containerPointToLayerPoint([own.left - frame.left, own.top - frame.top]);
        return [corner.x, corner.y, own.width, own.height];
      });
    }

    function placeWords() {
      var taken = controls(), edge = map.getPixelBounds(), origin = map.getPixelOrigin();
      var inner = L.bounds(edge.min.subtract(origin).add([70, 20]), edge.max.subtract(origin).subtract([70, 30]));
      placePins(taken);
      words.forEach(function (one) {
        var at, place;
        if (!map.hasLayer(layers[one.layer])) { return; }
        at = one.where ? seen(one.where, inner) : null;
        if (at) { one.marker.setLatLng(map.layerPointToLatLng(at)); }
        at = map.latLngToLayerPoint(one.marker.getLatLng());
        place = settle(taken, at, one.span.offsetWidth, 18, tries(one, at));
        one.span.style.visibility = place ? "visible" : "hidden";
        if (place) { one.span.style.left = place[0] + "px"; one.span.style.top = place[1] + "px"; }
      });
    }

    // Rows
    var said = document.getElementById("chosen"), toRow = document.getElementById("to-row");

    function button(number) { return document.querySelector("button.show[data-row='" + number + "']"); }

    function whole() { map.fitBounds(box(data.view), { animate: false }); }

    function boundsOf(row) {
      var zone = row.zone === null ? null : data.zones[row.zone], all = [];
      if (row.line !== null) { return L.latLngBounds(positions(row.line)); }
      if (zone !== null) {
        zone.shapes.areas.concat(zone.shapes.lines, zone.points.map(positions)).forEach(function (path) {
          all = all.concat(path);
        });
      }
      return all.length ? L.latLngBounds(all) : box(data.view);
    }

    function release() {
      if (chosen === null) { return; }
      document.getElementById("row-" + chosen).classList.remove("picked");
      button(chosen).removeAttribute("aria-pressed");
      if (pins[chosen] && pins[chosen].marker.getElement()) {
        pins[chosen].marker.getElement().classList.remove("picked");
      }
      if (chosenLine) { map.removeLayer(chosenLine); chosenLine = null; }
      chosen = null;
    }

    function choose(number, move) {
      var row = data.rows[number - 1];
      release();
      chosen = number;
      document.getElementById("row-" + number).classList.add("picked");
      button(number).setAttribute("aria-pressed", "true");
      if (pins[number]) { turn(pins[number].layer, true); }
      if (row.line !== null) {
        chosenLine = L.layerGroup([
          line(positions(row.line), "chosen-line", "findings", true)
        ]).addTo(map);
      }
      if (move) {
        map.fitBounds(boundsOf(row).pad(0.8), { animate: false, maxZoom: CLOSEST_ZOOM, padding: [30, 30] });
        chart.scrollIntoView({ block: "nearest" });
      }
      if (pins[number] && pins[number].marker.getElement()) {
        pins[number].marker.getElement().classList.add("picked");
      }
      said.textContent = number + ", " + row.word.toLowerCase() + ": " + row.text;
      toRow.hidden = false;
      document.getElementById("previous").disabled = number <= 1;
      document.getElementById("next").disabled = number >= data.rows.length;
      placeWords();
    }

    function turn(name, on) {
      var switcher = document.querySelector("input[data-layer='" + name + "']");
      if (switcher) { switcher.checked = on; }
      if (on) { map.addLayer(layer(name)); } else { map.removeLayer(layer(name)); }
    }

    function wire() {
      Array.prototype.forEach.call(document.querySelectorAll("input[data-layer]"), function (input) {
        input.addEventListener("change", function () {
          turn(input.getAttribute("data-layer"), input.checked);
          placeWords();
        });
      });
      Array.prototype.forEach.call(document.querySelectorAll("button.show"), function (one) {
        one.addEventListener("click", function () { choose(Number(one.getAttribute("data-row")), true); });
      });
      document.getElementById("previous").addEventListener("click", function () {
        choose(chosen === null ? 1 : Math.max(chosen - 1, 1), true);
      });
      document.getElementById("next").addEventListener("click", function () {
        choose(chosen === null ? 1 : Math.min(chosen + 1, data.rows.length), true);
      });
      document.getElementById("previous").disabled = data.rows.length === 0;
      document.getElementById("next").disabled = data.rows.length === 0;
      document.getElementById("whole").addEventListener("click", function () { release(); whole(); });
      toRow.addEventListener("click", function () {
        document.getElementById("row-" + chosen).scrollIntoView({ block: "center" });
        button(chosen).focus();
      });
      document.getElementById("mode").addEventListener("change", function (event) {
        root.setAttribute("data-mode", event.target.value);
      });
      // The wheel scrolls the page until the chart is in use.
      map.on("focus", function () { map.scrollWheelZoom.enable(); });
      map.on("blur", function () { map.scrollWheelZoom.disable(); });
    }

    drawCoast();
    data.zones.forEach(drawZone);
    data.tracks.forEach(drawTrack);
    (data.gear || []).forEach(drawGear);
    data.rows.forEach(drawRow);
    layer("grid");
    Object.keys(layers).forEach(function (name) {
      var switcher = document.querySelector("input[data-layer='" + name + "']");
      if (!switcher || switcher.checked) { map.addLayer(layers[name]); }
    });
    whole();
    map.setMinZoom(map.getBoundsZoom(box(data.window), true));
    map.setMaxBounds(box(data.window));
    scale.addTo(map);
    north.addTo(map);
    L.control.zoom({ position: "bottomright" }).addTo(map);
    wire();
    map.on("moveend", function () {
      drawGrid();
      placeWords();
    });
    drawGrid();
    placeWords();
    window.towzoneMap = map;
  }

  window.towzoneRecord = towzoneRecord;
}());
