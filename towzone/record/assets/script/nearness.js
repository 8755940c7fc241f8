/* The nearest zone and its clearance, for the read-outs: good to a metre or two, the table has the exact
   figures. Negative inside, after the radius; the other way round for zones that allow only inside. */
towzone.nearness = (function () {
  "use strict";

  var FARTHEST_M = 1e6; // own choice: beyond it nothing is told
  var SPARE_M = 10000; // own choice: so much beyond its margin no zone is in doubt by the position

  // Distance from a point to a piece p-q, all in the plane, and where on the piece (0 to 1), into out.
  function toPiece(x, y, p, q, out) {
    var dx = q[0] - p[0], dy = q[1] - p[1], size = dx * dx + dy * dy;
    var t = size === 0 ? 0 : Math.min(Math.max(((x - p[0]) * dx + (y - p[1]) * dy) / size, 0), 1);
    var ex = p[0] + t * dx - x, ey = p[1] + t * dy - y;
    out[0] = Math.sqrt(ex * ex + ey * ey);
    out[1] = t;
  }

  function turn(a, b, c) { return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]); }

  // Touching is not crossing: the distances of the ends see to that.
  function crosses(a, b, p, q) {
    return turn(a, b, p) * turn(a, b, q) < 0 && turn(p, q, a) * turn(p, q, b) < 0;
  }

  function within(corners, p) {
    return corners.length > 2 && corners.every(function (a, i) {
      return turn(a, corners[(i + 1) % corners.length], p) >= 0;
    });
  }

  // Least distance from a place, or from the ground within a hull of places, to a boundary: {metres, at} or null.
  function least(boundary, places, limit_m) {
    var middle = [0, 1].map(function (k) {
      return places.reduce(function (sum, place) { return sum + place[k]; }, 0) / places.length;
    });
    var where = towzone.boundary.plane(middle[0], middle[1]), xyz = new Float64Array(3), out = [0, 0];
    var found = null, best = limit_m, corners, reach;

    function keep(d, vertex, t, x, y) {
      if (d < best || (d === 0 && found === null)) {
        best = d;
        found = { vertex: vertex, t: t, x: x, y: y };
      }
    }

    corners = places.map(function (place) {
      var flat = [0, 0];
      towzone.geodesy.geocentric(place[0], place[1], xyz, 0);
      where.flat(xyz, 0, flat);
      return flat;
    });
    reach = corners.reduce(function (far, c) { return Math.max(far, Math.sqrt(c[0] * c[0] + c[1] * c[1])); }, 0);
    boundary.search(where, reach * 1.001, limit_m, function (vertex, p, q) {
      var i, a, b;
      if (best === 0) { return 0; }
      for (i = 0; i < corners.length; i += 1) {
        a = corners[i];
        toPiece(a[0], a[1], p, q, out);
        keep(out[0], vertex, out[1], a[0], a[1]);
        if (corners.length > 1) {
          b = corners[(i + 1) % corners.length];
          if (crosses(a, b, p, q)) { keep(0, vertex, 0, p[0], p[1]); }
          toPiece(p[0], p[1], a, b, out);
          keep(out[0], vertex, 0, a[0] + out[1] * (b[0] - a[0]), a[1] + out[1] * (b[1] - a[1]));
          toPiece(q[0], q[1], a, b, out);
          keep(out[0], vertex, 1, a[0] + out[1] * (b[0] - a[0]), a[1] + out[1] * (b[1] - a[1]));
        }
      }
      if (within(corners, p)) { keep(0, vertex, 0, p[0], p[1]); }
      return best;
    });
    return found === null ? null : finished(boundary, found, places, best);
  }

  // From the plane back to the ellipsoid: exactly from a place; from a hull by the length of the arc.
  function finished(boundary, found, places, flat_m) {
    var i = found.vertex, t = found.t, lat = boundary.lat, lon = boundary.lon, radius = towzone.geodesy.radius_m;
    var at = { lat: lat[i] + t * (lat[i + 1] - lat[i]), lon: lon[i] + t * (lon[i + 1] - lon[i]) };
    var metres = flat_m * (1 + flat_m * flat_m / (6 * radius * radius)), exact;
    if (places.length === 1) {
      exact = towzone.geodesy.inverse(places[0][0], places[0][1], at.lat, at.lon);
      metres = exact.metres === null ? metres : exact.metres;
    }
    return { metres: metres, at: at };
  }

  function start(record) {
    var zones = record.data.zones, made = [];

    function boundaryOf(index) {
      if (!made[index]) { made[index] = new towzone.boundary.Boundary(zones[index]); }
      return made[index];
    }

    // Clearance of places taken together from one zone; null when it is farther than the limit.
    function clearance(index, places, limit_m) {
      var zone = zones[index], boundary = boundaryOf(index), radius_m = zone.outside ? 0 : zone.radius_m;
      var wrong = places.filter(function (place) {
        return boundary.contains(place[0], place[1]) !== Boolean(zone.outside);
      });
      var deepest = null, found;
      if (wrong.length === 0) {
        found = least(boundary, places, Math.min(limit_m + radius_m, FARTHEST_M));
        return found && { zone: index, metres: found.metres - radius_m, inForce: zone.in_force, at: found.at };
      }
      // As far on the wrong side as the one farthest in.
      wrong.forEach(function (place) {
        var own = least(boundary, [place], FARTHEST_M);
        if (own !== null && (deepest === null || own.metres > deepest.metres)) { deepest = own; }
      });
      return deepest && { zone: index, metres: -deepest.metres - radius_m, inForce: zone.in_force, at: deepest.at };
    }

    function worst(places, inForce) {
      var best = null;
      zones.forEach(function (zone, index) {
        var found;
        if (Boolean(zone.in_force) !== inForce) { return; }
        found = clearance(index, places, best ? best.metres : FARTHEST_M);
        if (found !== null && (best === null || found.metres < best.metres)) { best = found; }
      });
      return best;
    }

    // The zone in force whose margin leaves the least to spare; null where all leave much.
    function tightest(places) {
      var best = null;
      zones.forEach(function (zone, index) {
        var found;
        if (!zone.in_force) { return; }
        found = clearance(index, places, zone.margin_m + (best ? best.spare : SPARE_M));
        if (found === null) { return; }
        found.spare = found.metres - zone.margin_m;
        if (best === null || found.spare < best.spare) { best = found; }
      });
      return best;
    }

    // The nearest zone whose rule is in force, with the nearer one whose rule is not as `idle`, and as `tight` a
    // farther one that leaves less to spare of its margin: a wide margin can be broken from beyond another zone.
    function nearest(places) {
      var known = towzone.geodesy.known, kept, idle, tight;
      if (!places.length || !places.every(function (place) { return known(place[0]) && known(place[1]); })) {
        return null;
      }
      kept = worst(places, true);
      idle = worst(places, false);
      if (kept === null) { return idle; }
      tight = tightest(places);
      kept.idle = idle !== null && idle.metres < kept.metres ? idle : null;
      kept.tight = tight !== null && tight.zone !== kept.zone ? tight : null;
      return kept;
    }

    record.nearest = function (lat, lon) { return nearest([[lat, lon]]); };
    record.nearestShape = function (places) { return nearest(towzone.gearAt.hull(places)); };
    // Large boundaries are made ready while nobody waits.
    record.on("ready", function () {
      window.setTimeout(function () { zones.forEach(function (zone, index) { boundaryOf(index); }); }, 0);
    });
  }

  return { start: start };
}());
