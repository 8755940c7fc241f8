/* What of the view is drawn upon, in cells of a few pixels: so that words find room in a time that grows with
   their number only, and never cover what they point at. Also places along a drawn line. */
towzone.ink = (function () {
  "use strict";

  // What a word covers when it lies there: a pattern; a line; the thick line of a tow; what must never be covered.
  var SOFT = 1, LINE = 2, THICK = 3, TAKEN = 4;
  var CELL = 5; // pixels; own choice: finer than the gap kept around words
  var MOST_SAMPLES = 4000;

  function sheet(width, height) {
    var columns = Math.ceil(width / CELL) + 1, rows = Math.ceil(height / CELL) + 1;
    var cells = new Uint8Array(columns * rows);

    function put(x, y, value) {
      var column = Math.floor(x / CELL), row = Math.floor(y / CELL), at = row * columns + column;
      if (column >= 0 && row >= 0 && column < columns && row < rows && cells[at] < value) { cells[at] = value; }
    }

    function box(left, top, wide, high, value) {
      var x, y;
      for (y = top; y < top + high + CELL; y += CELL) {
        for (x = left; x < left + wide + CELL; x += CELL) {
          put(Math.min(x, left + wide), Math.min(y, top + high), value);
        }
      }
    }

    // From point to point; what lies outside the view is passed over.
    function line(points, shift, value) {
      var edge = L.bounds([0, 0], [width, height]), i, k, steps, p, q, part;
      for (i = 1; i < points.length; i += 1) {
        p = L.point(points[i - 1].x + shift.x, points[i - 1].y + shift.y);
        q = L.point(points[i].x + shift.x, points[i].y + shift.y);
        part = L.LineUtil.clipSegment(p, q, edge, false, false);
        if (part) {
          steps = Math.ceil(Math.max(Math.abs(part[1].x - part[0].x), Math.abs(part[1].y - part[0].y)) / CELL) || 1;
          for (k = 0; k <= steps; k += 1) {
            put(part[0].x + (part[1].x - part[0].x) * k / steps, part[0].y + (part[1].y - part[0].y) * k / steps,
              value);
          }
        }
      }
    }

    // The most that a box around a middle would cover, and how much of it; null where it is not all in view.
    function under(middle, wide, high) {
      var left = Math.floor((middle[0] - wide / 2) / CELL), right = Math.floor((middle[0] + wide / 2) / CELL);
      var top = Math.floor((middle[1] - high / 2) / CELL), bottom = Math.floor((middle[1] + high / 2) / CELL);
      var most = 0, count = 0, x, y, value;
      if (middle[0] - wide / 2 < 2 || middle[1] - high / 2 < 2 || middle[0] + wide / 2 > width - 2 ||
          middle[1] + high / 2 > height - 2) { return null; }
      for (y = top; y <= bottom; y += 1) {
        for (x = left; x <= right; x += 1) {
          value = cells[y * columns + x];
          if (value > most) { most = value; count = 0; }
          if (value && value === most) { count += 1; }
        }
      }
      return { most: most, count: count };
    }

    // The first of the middles with nothing under it, else the one with least; takes the place.
    function settle(middles, wide, high, most) {
      var best = null, least = Infinity, i, found, weight;
      for (i = 0; i < middles.length && least > 0; i += 1) {
        found = under(middles[i], wide, high);
        if (found && found.most <= most) {
          weight = found.most * 10000 + found.count;
          if (weight < least) { least = weight; best = middles[i]; }
        }
      }
      if (best) { box(best[0] - wide / 2, best[1] - high / 2, wide, high, TAKEN); }
      return best;
    }

    return { box: box, line: line, settle: settle };
  }

  // The pieces of a line or area as Leaflet draws them in this view: clipped and simplified, in pixels.
  // (Not part of Leaflet's stated interface; the release is fixed by its SHA-256.)
  function pieces(layer) { return (layer._map && layer._parts) || []; }

  // Places every few pixels along a drawn line, in view, each with the direction there.
  function samples(layer, shift, frame, spacing) {
    var out = [];
    pieces(layer).forEach(function (points) {
      var next = spacing / 2, run = 0, i, length, t, at;
      for (i = 1; i < points.length && out.length < MOST_SAMPLES; i += 1) {
        length = points[i].distanceTo(points[i - 1]);
        while (length > 0 && next <= run + length && out.length < MOST_SAMPLES) {
          t = (next - run) / length;
          at = L.point(points[i - 1].x + (points[i].x - points[i - 1].x) * t + shift.x,
            points[i - 1].y + (points[i].y - points[i - 1].y) * t + shift.y);
          if (frame.contains(at)) {
            out.push({
              x: at.x, y: at.y,
              along: L.point((points[i].x - points[i - 1].x) / length, (points[i].y - points[i - 1].y) / length)
            });
          }
          next += spacing;
        }
        run += length;
      }
    });
    return out;
  }

  return { SOFT: SOFT, LINE: LINE, THICK: THICK, TAKEN: TAKEN, sheet: sheet, pieces: pieces, samples: samples };
}());
