/* Where the gear was at a moment: on its computed paths, and only while they say so. */
towzone.gearAt = (function () {
  "use strict";

  // Points of the path of one part, as far as their times are known.
  function pathOf(drawn) {
    var own = towzone.tracks.columns(drawn.path);
    var times = towzone.tracks.seconds(drawn.time, own.lat.length);
    return { part: drawn.part, style: drawn.style, lat: own.lat, lon: own.lon, times: times };
  }

  function pointAt(path, time_s) {
    var times = path.times, count = path.lat.length, i, t;
    if (times === null || !(time_s >= times[0] && time_s <= times[count - 1])) { return null; }
    i = Math.min(towzone.tracks.last(times, time_s), count - 2);
    t = times[i + 1] > times[i] ? (time_s - times[i]) / (times[i + 1] - times[i]) : 0;
    return {
      part: path.part, style: path.style, lat: path.lat[i] + t * (path.lat[i + 1] - path.lat[i]),
      lon: path.lon[i] + t * (path.lon[i + 1] - path.lon[i])
    };
  }

  // Convex hull of [[lat, lon], ...], round in order: the ground between the parts of the gear.
  // A. M. Andrew, Another efficient algorithm for convex hulls in two dimensions, Information Processing
  // Letters 9 (5), 1979.
  function hull(points) {
    var sorted = points.slice().sort(function (a, b) { return a[1] - b[1] || a[0] - b[0]; });

    function chain(some) {
      var kept = [];
      some.forEach(function (p) {
        var n = kept.length;
        while (n > 1 && (kept[n - 1][1] - kept[n - 2][1]) * (p[0] - kept[n - 2][0]) -
            (kept[n - 1][0] - kept[n - 2][0]) * (p[1] - kept[n - 2][1]) <= 0) {
          kept.pop();
          n -= 1;
        }
        kept.push(p);
      });
      return kept.slice(0, -1);
    }

    return points.length < 3 ? points.slice() : chain(sorted).concat(chain(sorted.reverse()));
  }

  function start(record) {
    var byTrack = {};
    (record.data.gear || []).forEach(function (gear) {
      byTrack[gear.track] = (byTrack[gear.track] || []).concat(gear.paths.map(pathOf));
    });

    record.gearAt = function (track, time_s) {
      if (time_s === null) { return []; }
      return (byTrack[track] || []).map(function (path) { return pointAt(path, time_s); })
        .filter(function (point) { return point !== null; });
    };
  }

  return { start: start, hull: hull };
}());
