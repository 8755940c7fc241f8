/* The boundary of a zone, held so that what is nearest to a place is found quickly; see nearness.js.
   Boundaries are cut into pieces that are straight to 0.1 m, held in geocentric metres, and looked at in the
   plane that touches the ellipsoid where the vessel is; spheres around sheaves of pieces save the looking. */
towzone.boundary = (function () {
  "use strict";

  var STRAY_M = 0.1, LONGEST_M = 10000, SHEAF = 48; // own choices
  var RAD = Math.PI / 180;

  // Ordinate of the chart, in radians.
  function ordinate(lat_deg) { return Math.log(Math.tan(Math.PI / 4 + lat_deg * RAD / 2)); }
  function latitude(y) { return (2 * Math.atan(Math.exp(y)) - Math.PI / 2) / RAD; }

  // An edge straight on the chart strays from a chord of length l by l^2 tan(lat) / 8 R, at most.
  function parts(lat0, lon0, lat1, lon1) {
    var high = Math.min(Math.max(Math.abs(lat0), Math.abs(lat1)), 89), radius = towzone.geodesy.radius_m;
    var low = Math.min(Math.abs(lat0), Math.abs(lat1)) * RAD;
    var y = (lat1 - lat0) * RAD * radius, x = (lon1 - lon0) * RAD * radius * Math.cos(lat0 * lat1 < 0 ? 0 : low);
    var length = Math.sqrt(x * x + y * y) * 1.01;
    var bend = Math.sqrt(Math.tan(high * RAD) / (8 * radius * STRAY_M));
    return Math.max(1, Math.ceil(length * bend), Math.ceil(length / LONGEST_M));
  }

  function cut(path, closed, lat, lon) {
    var own = towzone.tracks.columns(path), count = own.lat.length, i, j, k, n, y0, y1;
    if (count === 1) { lat.push(own.lat[0]); lon.push(own.lon[0]); }
    for (i = 0; i < (closed ? count : count - 1); i += 1) {
      j = (i + 1) % count;
      n = parts(own.lat[i], own.lon[i], own.lat[j], own.lon[j]);
      y0 = ordinate(own.lat[i]);
      y1 = ordinate(own.lat[j]);
      for (k = 0; k < n; k += 1) {
        lat.push(k ? latitude(y0 + (y1 - y0) * k / n) : own.lat[i]);
        lon.push(own.lon[i] + (own.lon[j] - own.lon[i]) * k / n);
      }
    }
    if (count > 0) { lat.push(own.lat[closed ? 0 : count - 1]); lon.push(own.lon[closed ? 0 : count - 1]); }
  }

  // Every piece goes from a vertex to the next one; `ends` are the vertices at which a string ends.
  function Boundary(zone) {
    var lat = [], lon = [], ends = [], areas = [], i;

    function add(path, closed) {
      cut(path, closed, lat, lon);
      ends.push(lat.length - 1);
    }

    zone.areas.forEach(function (rings) {
      var from = lat.length;
      rings.forEach(function (ring) { add(ring, true); });
      areas.push([from, lat.length]);
    });
    zone.lines.concat(zone.points).forEach(function (path) { add(path, false); });
    this.lat = new Float64Array(lat);
    this.lon = new Float64Array(lon);
    this.ends = new Uint8Array(lat.length);
    for (i = 0; i < ends.length; i += 1) { this.ends[ends[i]] = 1; }
    this.areas = areas;
    this.boxes = areas.map(function (span) { return box(lat, lon, span); });
    this.xyz = new Float64Array(3 * lat.length);
    for (i = 0; i < lat.length; i += 1) { towzone.geodesy.geocentric(lat[i], lon[i], this.xyz, 3 * i); }
    this.spheres = spheres(this.xyz, lat.length);
  }

  function box(lat, lon, span) {
    var west = Infinity, south = Infinity, east = -Infinity, north = -Infinity, i;
    for (i = span[0]; i < span[1]; i += 1) {
      west = Math.min(west, lon[i]);
      south = Math.min(south, lat[i]);
      east = Math.max(east, lon[i]);
      north = Math.max(north, lat[i]);
    }
    return [west, south, east, north];
  }

  // [x, y, z, radius] around each sheaf of vertices; neighbours share one vertex.
  function spheres(xyz, count) {
    var n = Math.max(1, Math.ceil((count - 1) / SHEAF)), out = new Float64Array(4 * n), s, i, k, low, high, far, d;
    for (s = 0; s < n; s += 1) {
      low = [Infinity, Infinity, Infinity];
      high = [-Infinity, -Infinity, -Infinity];
      for (i = s * SHEAF; i <= (s + 1) * SHEAF && i < count; i += 1) {
        for (k = 0; k < 3; k += 1) {
          low[k] = Math.min(low[k], xyz[3 * i + k]);
          high[k] = Math.max(high[k], xyz[3 * i + k]);
        }
      }
      for (far = 0, k = 0; k < 3; k += 1) {
        out[4 * s + k] = (low[k] + high[k]) / 2;
        d = (high[k] - low[k]) / 2;
        far += d * d;
      }
      out[4 * s + 3] = Math.sqrt(far);
    }
    return out;
  }

  // Whether a place lies in one of the areas: boundaries met on the meridian northward, an odd number of times.
  Boundary.prototype.contains = function (lat_deg, lon_deg) {
    var self = this;
    return this.areas.some(function (span, area) {
      var edge = self.boxes[area], lat = self.lat, lon = self.lon, odd = false, i;
      var x = lon_deg + 360 * Math.round(((edge[0] + edge[2]) / 2 - lon_deg) / 360);
      if (!(x >= edge[0] && x <= edge[2] && lat_deg >= edge[1] && lat_deg <= edge[3])) { return false; }
      for (i = span[0]; i + 1 < span[1]; i += 1) {
        if (!self.ends[i] && (lon[i] > x) !== (lon[i + 1] > x) && lat_deg <
            lat[i] + (x - lon[i]) / (lon[i + 1] - lon[i]) * (lat[i + 1] - lat[i])) { odd = !odd; }
      }
      return odd;
    });
  };

  // The plane around a place: flat(xyz, at, out) gives metres east and north in it.
  function plane(lat_deg, lon_deg) {
    var s = Math.sin(lat_deg * RAD), c = Math.cos(lat_deg * RAD), sl = Math.sin(lon_deg * RAD);
    var cl = Math.cos(lon_deg * RAD), o = [0, 0, 0];
    towzone.geodesy.geocentric(lat_deg, lon_deg, o, 0);
    return {
      origin: o,
      flat: function (xyz, at, out) {
        var x = xyz[at] - o[0], y = xyz[at + 1] - o[1], z = xyz[at + 2] - o[2];
        out[0] = cl * y - sl * x;
        out[1] = c * z - s * (cl * x + sl * y);
      }
    };
  }

  // Visits the pieces that may be nearer than the best so far. visit(vertex, p, q) returns a distance in the
  // plane. A chord is longer than its shadow in the plane by less than the allowance.
  Boundary.prototype.search = function (where, reach_m, limit_m, visit) {
    var xyz = this.xyz, ends = this.ends, o = where.origin, count = this.lat.length, all = this.spheres;
    var best = limit_m, p = [0, 0], q = [0, 0], s, i, x, y, z;
    for (s = 0; 4 * s < all.length; s += 1) {
      x = all[4 * s] - o[0];
      y = all[4 * s + 1] - o[1];
      z = all[4 * s + 2] - o[2];
      if (Math.sqrt(x * x + y * y + z * z) - all[4 * s + 3] - reach_m < best * (1 + best * best / 1e14) + 1) {
        for (i = s * SHEAF; i < (s + 1) * SHEAF && i + 1 < count; i += 1) {
          if (!ends[i]) {
            where.flat(xyz, 3 * i, p);
            where.flat(xyz, 3 * i + 3, q);
            best = Math.min(best, visit(i, p, q));
          }
        }
      }
    }
    return best;
  };

  return { Boundary: Boundary, plane: plane };
}());
