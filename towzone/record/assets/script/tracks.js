/* Where the vessel was at a place of a track or at a time. A place is a number: 3.25 is a quarter of the way
   from fix 3 to fix 4. Where positions are missing none is made up. */
towzone.tracks = (function () {
  "use strict";

  var WINDOW_S = 60, LEAST_S = 20, STILL_M = 10; // own choices, see speed()
  var SHEAF = 128; // legs in one box, own choice

  function columns(path) {
    var count = path.length / 2, lat = new Float64Array(count), lon = new Float64Array(count), x = 0, y = 0, i;
    for (i = 0; i < count; i += 1) {
      x += path[2 * i];
      y += path[2 * i + 1];
      lon[i] = x / 1e6;
      lat[i] = y / 1e6;
    }
    return { lat: lat, lon: lon };
  }

  // {unit, start, runs: [count, step, ...]} or {unit, start, steps}: seconds since 1970; null where unknown.
  function seconds(time, count) {
    var out, at, next = 1, i, k;
    if (!time) { return null; }
    out = new Float64Array(count);
    at = time.start;
    out[0] = at / time.unit;
    if (time.runs) {
      for (i = 0; i < time.runs.length; i += 2) {
        for (k = 0; k < time.runs[i]; k += 1) { at += time.runs[i + 1]; out[next] = at / time.unit; next += 1; }
      }
    } else {
      for (i = 0; i < time.steps.length; i += 1) { at += time.steps[i]; out[next] = at / time.unit; next += 1; }
    }
    return next === count ? out : null;
  }

  // The greatest index with values[index] <= value, -1 before the first.
  function last(values, value) {
    var low = -1, high = values.length, middle;
    while (high - low > 1) {
      middle = (low + high) >> 1;
      if (values[middle] <= value) { low = middle; } else { high = middle; }
    }
    return low;
  }

  // Extra positions of a long leg and how far along it each lies; looked up by the fix before.
  function bendsOf(drawn, lat, lon) {
    var found = {};
    (drawn.bends || []).forEach(function (bend) {
      var between = columns(bend[1]), i = bend[0], share = [0], k, leg;
      var y = [lat[i]].concat(Array.prototype.slice.call(between.lat), lat[i + 1]);
      var x = [lon[i]].concat(Array.prototype.slice.call(between.lon), lon[i + 1]);
      for (k = 1; k < y.length; k += 1) {
        leg = towzone.geodesy.inverse(y[k - 1], x[k - 1], y[k], x[k]).metres;
        share.push(share[k - 1] + (leg || 0));
      }
      found[i] = { lat: y, lon: x, share: share.map(function (sum) { return sum / share[share.length - 1]; }) };
    });
    return found;
  }

  // Boxes around sheaves of legs, so that a pointer is compared with few of them.
  function boxesOf(lat, lon) {
    var count = Math.max(Math.ceil((lat.length - 1) / SHEAF), 1), boxes = new Float64Array(4 * count), b, i;
    for (b = 0; b < count; b += 1) {
      boxes.set([Infinity, Infinity, -Infinity, -Infinity], 4 * b);
      for (i = b * SHEAF; i <= (b + 1) * SHEAF && i < lat.length; i += 1) {
        boxes[4 * b] = Math.min(boxes[4 * b], lon[i]);
        boxes[4 * b + 1] = Math.min(boxes[4 * b + 1], lat[i]);
        boxes[4 * b + 2] = Math.max(boxes[4 * b + 2], lon[i]);
        boxes[4 * b + 3] = Math.max(boxes[4 * b + 3], lat[i]);
      }
    }
    return boxes;
  }

  function trackOf(drawn) {
    var own = columns(drawn.path), lat = own.lat, lon = own.lon, count = lat.length;
    var times = seconds(drawn.time, count), runs = drawn.runs, bends = bendsOf(drawn, lat, lon), boxes = null;
    var firsts = runs.map(function (run) { return run[0]; }), gap = {};
    drawn.gaps.forEach(function (one) { gap[one.fix] = one; });

    // The run that covers a place; null in a gap. Where two runs meet the later one speaks.
    function runAt(place) {
      var i = last(firsts, place), run = i < 0 ? null : runs[i];
      return run !== null && place <= run[1] ? run : null;
    }

    // In a gap nothing is known but the time.
    function at(place) {
      var fix = Math.min(Math.max(Math.floor(place), 0), count - 1), part = place - fix, run, found, bend, k, t;
      run = place >= 0 && place <= count - 1 ? runAt(place) : null;
      if (run !== null && part > 0 && gap[fix]) { run = null; }
      found = {
        lat: null, lon: null, time_s: timeAt(place), place: place, fix: fix, covered: run !== null,
        activity: run === null ? null : run[2], tow: run === null ? null : run[3], exact: part === 0
      };
      if (run === null) { return found; }
      bend = part > 0 ? bends[fix] : null;
      if (bend) {
        k = Math.min(last(bend.share, part), bend.share.length - 2);
        t = (part - bend.share[k]) / (bend.share[k + 1] - bend.share[k]);
        found.lat = bend.lat[k] + t * (bend.lat[k + 1] - bend.lat[k]);
        found.lon = bend.lon[k] + t * (bend.lon[k + 1] - bend.lon[k]);
      } else {
        found.lat = part > 0 ? lat[fix] + part * (lat[fix + 1] - lat[fix]) : lat[fix];
        found.lon = part > 0 ? lon[fix] + part * (lon[fix + 1] - lon[fix]) : lon[fix];
      }
      return found;
    }

    function timeAt(place) {
      var fix = Math.floor(place);
      if (times === null || !(place >= 0 && place <= count - 1)) { return null; }
      return fix === place ? times[fix] : times[fix] + (place - fix) * (times[fix + 1] - times[fix]);
    }

    function placeAt(time_s) {
      var fix;
      if (times === null || !(time_s >= times[0] && time_s <= times[count - 1])) { return null; }
      fix = last(times, time_s);
      return fix === count - 1 ? fix : fix + (time_s - times[fix]) / (times[fix + 1] - times[fix]);
    }

    // First and last fix of what is covered around a place without a gap.
    function stretch(place) {
      var i = last(firsts, place), from = i, to = i;
      while (from > 0 && runs[from - 1][1] === runs[from][0]) { from -= 1; }
      while (to + 1 < runs.length && runs[to][1] === runs[to + 1][0]) { to += 1; }
      return [runs[from][0], runs[to][1]];
    }

    // Made good over the minute around a place, never across a gap; from less than 20 s none is told, and no
    // course from less than 10 m: the error of positions would be all there is in it.
    function speed(place) {
      var time_s = timeAt(place), span, from, to, a, b, way;
      if (time_s === null || runAt(place) === null) { return null; }
      span = stretch(place);
      from = Math.max(time_s - WINDOW_S / 2, times[span[0]]);
      to = Math.min(from + WINDOW_S, times[span[1]]);
      from = Math.max(to - WINDOW_S, times[span[0]]);
      if (to - from < LEAST_S) { return null; }
      a = at(Math.max(placeAt(from), span[0]));
      b = at(Math.min(placeAt(to), span[1]));
      if (!a.covered || !b.covered) { return null; }
      way = towzone.geodesy.inverse(a.lat, a.lon, b.lat, b.lon);
      if (way.metres === null) { return null; }
      return {
        speed_kn: way.metres / (to - from) * 3600 / towzone.geodesy.mile_m,
        course_deg: way.metres < STILL_M ? null : way.bearing_deg
      };
    }

    // The nearest fix, or with `legs` the nearest place, in a plane around the position: for pointing only.
    function search(latlng, legs) {
      var scale = Math.cos(latlng.lat * Math.PI / 180), best = Infinity, place = null;
      var y0 = latlng.lat, x0 = latlng.lng, b, i, x, y, dx, dy, t, d;
      // A chart may show the same water a whole turn away.
      x0 += 360 * Math.round((lon[0] - x0) / 360);
      boxes = boxes || boxesOf(lat, lon);
      // No box is of use whose nearest corner is farther than the farthest corner of another.
      for (b = 0; 4 * b < boxes.length; b += 1) {
        x = Math.max(Math.abs(boxes[4 * b] - x0), Math.abs(boxes[4 * b + 2] - x0)) * scale;
        y = Math.max(Math.abs(boxes[4 * b + 1] - y0), Math.abs(boxes[4 * b + 3] - y0));
        best = Math.min(best, (x * x + y * y) * 1.000001 + 1e-18);
      }
      for (b = 0; 4 * b < boxes.length; b += 1) {
        x = Math.max(boxes[4 * b] - x0, x0 - boxes[4 * b + 2], 0) * scale;
        y = Math.max(boxes[4 * b + 1] - y0, y0 - boxes[4 * b + 3], 0);
        if (x * x + y * y < best) {
          for (i = b * SHEAF; i < Math.min((b + 1) * SHEAF + 1, count); i += 1) {
            x = (lon[i] - x0) * scale;
            y = lat[i] - y0;
            t = 0;
            if (legs && i + 1 < count && !gap[i] && runAt(i + 0.5) !== null) {
              dx = (lon[i + 1] - lon[i]) * scale;
              dy = lat[i + 1] - lat[i];
              t = dx === 0 && dy === 0 ? 0 : Math.min(Math.max(-(x * dx + y * dy) / (dx * dx + dy * dy), 0), 1);
              x += t * dx;
              y += t * dy;
            }
            d = x * x + y * y;
            if (d < best) { best = d; place = i + t; }
          }
        }
      }
      return place;
    }

    function nearest(latlng, legs) {
      var place = count === 0 ? null : search(latlng, Boolean(legs)), here;
      if (place === null) { return null; }
      here = at(place);
      return {
        place: place, metres: here.covered ?
          towzone.geodesy.inverse(latlng.lat, latlng.lng, here.lat, here.lon).metres : null
      };
    }

    return {
      name: drawn.name, layer: drawn.layer, count: count, timed: times !== null, positions: own, times: times,
      at: at, timeAt: timeAt, placeAt: placeAt, nearest: nearest, speed: speed, gapAt: function (place) {
        return runAt(place) === null ? gap[Math.floor(place)] || null : null;
      }
    };
  }

  function start(record) { record.tracks = record.data.tracks.map(trackOf); }

  return { start: start, columns: columns, seconds: seconds, last: last };
}());
