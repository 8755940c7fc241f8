/* Names, lengths and numbers of tows on the chart: each beside what it tells of, never over it, never over each
   other; what finds no room is left out until there is some. Only what is in view is made. */
towzone.labels = (function () {
  "use strict";

  var element = towzone.base.element, ink = towzone.ink;
  var HIGH = 18, GAP = 8, MOST_WORDS = 400; // pixels, pixels, words in one view: own choice
  var SHORT = 30; // pixels of a line below which no word stands beside it: own choice
  var SMALL = 160; // pixels of an area up to which its name may stand beside all of it: own choice
  var RINGS = [2, 10, 20, 32]; // pixels between a number and its length: own choice
  var FARTHER = [50, 75, 110]; // for the chosen one, which is never without
  var ALONG = [0.5, 0.38, 0.62, 0.26, 0.74, 0.14, 0.86];

  // A box of this width whose nearest side is GAP away from a place, in a direction of length 1.
  function away(at, x, y, gap, width) {
    var support = Math.abs(x) * width / 2 + Math.abs(y) * HIGH / 2;
    return [at.x + x * (gap + support), at.y + y * (gap + support)];
  }

  function beside(at, along, width) {
    var out = [];
    [1, 2, 3].forEach(function (gaps) {
      out.push(away(at, -along.y, along.x, gaps * GAP, width), away(at, along.y, -along.x, gaps * GAP, width));
    });
    return out;
  }

  function around(at, reachX, reachY, width) {
    var x = reachX + GAP + width / 2, y = reachY + GAP + HIGH / 2;
    return [[x, 0], [-x, 0], [0, y], [0, -y], [x, y], [-x, y], [x, -y], [-x, -y]].map(function (step) {
      return [at.x + step[0], at.y + step[1]];
    });
  }

  function within(ring, x, y) {
    var inside = false, i, k = ring.length - 1;
    for (i = 0; i < ring.length; k = i, i += 1) {
      if ((ring[i].y > y) !== (ring[k].y > y) &&
          x < (ring[k].x - ring[i].x) * (y - ring[i].y) / (ring[k].y - ring[i].y) + ring[i].x) { inside = !inside; }
    }
    return inside;
  }

  // In an area: places in what can be seen of it, so many across and down, those nearest to its middle first.
  function inArea(ring, width, across, down) {
    var bounds = L.bounds(ring), size = bounds.getSize(), middle = bounds.getCenter(), out = [], x, y, at;
    for (y = 1; y < down; y += 1) {
      for (x = 1; x < across; x += 1) {
        at = [bounds.min.x + size.x * x / across, bounds.min.y + size.y * y / down];
        if (within(ring, at[0] - width / 2, at[1]) && within(ring, at[0] + width / 2, at[1]) &&
            within(ring, at[0], at[1] - HIGH / 2) && within(ring, at[0], at[1] + HIGH / 2)) { out.push(at); }
      }
    }
    return out.sort(function (a, b) {
      return Math.abs(a[0] - middle.x) + 2 * Math.abs(a[1] - middle.y) - Math.abs(b[0] - middle.x) -
        2 * Math.abs(b[1] - middle.y);
    });
  }

  var OF_TOWS = 2; // where the numbers of the tows come in the order of words

  function start(record) {
    var map = record.map, chart = record.chart, group = record.layers.of, brush = null, placed = L.layerGroup();
    var shift, frame;

    function widthOf(word) {
      var style;
      if (!brush) {
        style = window.getComputedStyle(chart);
        brush = document.createElement("canvas").getContext("2d");
        brush.font = "600 13px " + style.fontFamily;
      }
      if (!word.width) { word.width = Math.ceil(brush.measureText(word.text).width) + 4; }
      return word.width;
    }

    // The largest ring of a zone that can be seen, in pixels, cut to the view.
    function seen(areas) {
      var best = null, most = 0;
      areas.forEach(function (layer) {
        (ink.pieces(layer)[0] ? [ink.pieces(layer)[0]] : []).forEach(function (points) {
          var moved = points.map(function (p) { return L.point(p.x + shift.x, p.y + shift.y); });
          var cut = L.PolyUtil.clipPolygon(moved, frame, false), size;
          if (cut.length < 3) { return; }
          size = L.bounds(cut).getSize();
          if (size.x * size.y >= most) { most = size.x * size.y; best = cut; }
        });
      });
      return best;
    }

    function alongOf(lines, width) {
      var all = [], out = [];
      lines.forEach(function (layer) { all = all.concat(ink.samples(layer, shift, frame, 8)); });
      ALONG.forEach(function (share) {
        var one = all[Math.floor(all.length * share)];
        if (one) { out = out.concat(beside(one, one.along, width)); }
      });
      return out;
    }

    function ofZone(word, width) {
      var shapes = word.zone.shapes, ring, size, out;
      if (shapes.lines.length) {
        out = alongOf(shapes.lines, width);
        if (out.length) { return out; }
      }
      ring = seen(shapes.areas);
      if (ring) {
        size = L.bounds(ring).getSize();
        out = inArea(ring, width, 10, 6);
        if (!out.length && size.x > width) { out = inArea(ring, width, 32, 16); }
        return out.concat(Math.max(size.x, size.y) < SMALL ?
          around(L.bounds(ring).getCenter(), size.x / 2, size.y / 2, width) : alongOf(shapes.areas, width));
      }
      shapes = shapes.points.map(function (at) { return map.latLngToContainerPoint(at); }).filter(function (at) {
        return frame.contains(at);
      });
      return shapes.length ? around(shapes[0], 4, 4, width) : [];
    }

    // Rings of places around the number of a row, the nearest first.
    function atPin(pin, width) {
      var out = [];
      if (!pin.middle) { return out; }
      (pin.word.far ? FARTHER : RINGS).forEach(function (gap) {
        var x = 13 + gap + width / 2, y = 12 + gap + HIGH / 2, aside = width / 2 - 10;
        [[x, 0], [-x, 0], [0, y], [0, -y], [aside, y], [-aside, y], [aside, -y], [-aside, -y], [x, 12], [x, -12],
          [-x, 12], [-x, -12], [x, y], [-x, y], [x, -y], [-x, -y]].forEach(function (step) {
          out.push([pin.middle[0] + step[0], pin.middle[1] + step[1]]);
        });
      });
      return out;
    }

    // The length of a row stands beside its number, else beside the line it is of; a gap's words beside the gap.
    function ofEnds(word, width) {
      var out = word.pin ? atPin(word.pin, width) : [];
      var ends = word.ends.map(function (end) { return map.latLngToContainerPoint(end); });
      var part = L.LineUtil.clipSegment(ends[0], ends[1], frame, false, false), length, along;
      if (!part) { return out; }
      length = part[0].distanceTo(part[1]);
      if (length > SHORT || !word.pin) {
        along = length ? part[1].subtract(part[0]).divideBy(length) : L.point(1, 0);
        [0.5, 0.3, 0.7].forEach(function (share) {
          out = out.concat(beside(part[0].add(part[1].subtract(part[0]).multiplyBy(share)), along, width));
        });
        return out;
      }
      return out;
    }

    function middles(word, width) {
      if (word.middles) { return word.middles(width); }
      return word.zone ? ofZone(word, width) : ofEnds(word, width);
    }

    function put(word, most) {
      var width, middle;
      if (word.done || !record.layers.shown(word.layer)) { return false; }
      if (word.of && !record.layers.shown(word.of)) { return false; }
      width = widthOf(word);
      middle = record.sheet.settle(middles(word, width), width, HIGH, most || word.most);
      if (!middle) { return false; }
      placed.addLayer(record.draw.mark(map.containerPointToLatLng(middle), "word " + word.className,
        element("span", "", word.text)));
      word.done = true;
      return true;
    }

    // Where the scale, the zoom buttons and the north mark are
    function keepControls() {
      var around = chart.getBoundingClientRect();
      Array.prototype.forEach.call(chart.querySelectorAll(".leaflet-control"), function (node) {
        var own = node.getBoundingClientRect();
        record.sheet.box(own.left - around.left - 2, own.top - around.top - 2, own.width + 4, own.height + 4,
          ink.TAKEN);
      });
    }

    function place() {
      var size = map.getSize(), count = 0, words;
      shift = map.layerPointToContainerPoint([0, 0]);
      frame = L.bounds([2, 2], [size.x - 2, size.y - 2]);
      record.sheet = ink.sheet(size.x, size.y);
      placed.clearLayers();
      keepControls();
      record.emit("edges");
      record.ink.forEach(function (one) {
        ink.pieces(one.layer).forEach(function (points) { record.sheet.line(points, shift, one.value); });
      });
      record.words.forEach(function (word) { word.done = word.far = false; });
      record.placePins(record.sheet, frame, function (pin) {
        if (put(pin.word, ink.THICK)) { return; }
        pin.word.far = true;
        put(pin.word, ink.THICK);
      });
      words = record.placeArrows(shift, frame);
      words = record.words.filter(function (word) { return word.rank < OF_TOWS; })
        .concat(words, record.words.filter(function (word) { return word.rank > OF_TOWS; }));
      words.some(function (word) {
        count += put(word) ? 1 : 0;
        return count >= MOST_WORDS;
      });
    }

    // Lengths of findings first, then places of a plan and the zones that findings are about, tows, the other zones, gaps.
    function sortWords() {
      var concerned = {};
      record.data.rows.forEach(function (row) {
        if (row.matters && row.zone !== null) { concerned[row.zone] = true; }
      });
      record.words.forEach(function (word, i) {
        var zone = word.zone && concerned[word.index];
        word.rank = word.layer === "findings" ? 0 : zone || word.layer === "plan" ? 1 : word.zone ? 3 : word.layer === "gaps" ? 4 : 5;
        word.order = i;
      });
      record.words.sort(function (a, b) { return a.rank - b.rank || a.order - b.order; });
    }

    sortWords();
    group("names");
    record.away = away;
    record.on("ready", function () {
      placed.addTo(map);
      place();
      map.on("moveend", place);
      map.on("resize", place);
      record.on("layer", place);
      record.on("row", place);
    });
  }

  return { start: start, beside: beside };
}());
