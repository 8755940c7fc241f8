/* Numbers and names on the chart, never over each other. */
towzone.labels = (function () {
  "use strict";

  function start(record) {
    var map = record.map, chart = record.chart, layer = record.layers.of;

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
      var shown = Object.keys(record.pins).map(function (number) { return record.pins[number]; })
        .filter(function (pin) { return map.hasLayer(layer(pin.layer)); });
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
      record.words.forEach(function (one) {
        var at, place;
        if (!map.hasLayer(layer(one.layer))) { return; }
        at = one.where ? seen(one.where, inner) : null;
        if (at) { one.marker.setLatLng(map.layerPointToLatLng(at)); }
        at = map.latLngToLayerPoint(one.marker.getLatLng());
        place = settle(taken, at, one.span.offsetWidth, 18, tries(one, at));
        one.span.style.visibility = place ? "visible" : "hidden";
        if (place) { one.span.style.left = place[0] + "px"; one.span.style.top = place[1] + "px"; }
      });
    }

    map.on("moveend", placeWords);
    record.on("layer", placeWords);
    record.on("row", placeWords);
    record.on("ready", placeWords);
  }

  return { start: start };
}());
