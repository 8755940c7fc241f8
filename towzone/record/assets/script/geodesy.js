/* Distances and bearings on the WGS 84 ellipsoid, and how lengths and places are written: like towzone/units.py. */
towzone.geodesy = (function () {
  "use strict";

  // WGS 84, published: NGA.STND.0036 (2014), Table 3.1.
  var A_M = 6378137, F = 1 / 298.257223563, B_M = A_M * (1 - F), E2 = F * (2 - F);
  var MILE_M = 1852; // published: BIPM, The International System of Units, nautical mile
  var RAD = Math.PI / 180;
  var TURNS = 60, ENOUGH = 1e-13; // own choice: 1e-13 rad are 0.6 micrometres; near pairs take 3 to 5 turns
  var say = function (key) { return key; };

  function start(record) { say = record.say; }

  function wrapped(lon_deg) {
    var turned = (lon_deg + 180) % 360;
    return (turned < 0 ? turned + 360 : turned) - 180;
  }

  // T. Vincenty, Direct and inverse solutions of geodesics on the ellipsoid with application of nested
  // equations, Survey Review 23 (176), 1975: formulas 13 to 21. Where the iteration does not settle (places
  // almost opposite each other on the globe) the answer is null, never a number that looks like one.
  function inverse(lat0_deg, lon0_deg, lat1_deg, lon1_deg) {
    var unknown = { metres: null, bearing_deg: null };
    var u0 = Math.atan((1 - F) * Math.tan(lat0_deg * RAD)), u1 = Math.atan((1 - F) * Math.tan(lat1_deg * RAD));
    var s0 = Math.sin(u0), c0 = Math.cos(u0), s1 = Math.sin(u1), c1 = Math.cos(u1);
    var apart = wrapped(lon1_deg - lon0_deg) * RAD, lambda = apart, before, turn, big, small;
    var sinL, cosL, y, x, sinS, cosS, sigma, sinAlpha, cos2Alpha, cos2M, c, u2, shift;
    if (!isFinite(lat0_deg + lon0_deg + lat1_deg + lon1_deg)) { return unknown; }
    if (Math.abs(lat0_deg) > 90 || Math.abs(lat1_deg) > 90) { return unknown; }
    for (turn = 0; turn < TURNS; turn += 1) {
      sinL = Math.sin(lambda);
      cosL = Math.cos(lambda);
      y = c1 * sinL;
      // c0 s1 - s0 c1 cos L, written so that near places lose no digits
      x = Math.sin(u1 - u0) + s0 * c1 * 2 * Math.pow(Math.sin(lambda / 2), 2);
      sinS = Math.sqrt(y * y + x * x);
      cosS = s0 * s1 + c0 * c1 * cosL;
      if (sinS === 0) { return cosS > 0 ? { metres: 0, bearing_deg: null } : unknown; }
      sigma = Math.atan2(sinS, cosS);
      sinAlpha = c0 * c1 * sinL / sinS;
      cos2Alpha = 1 - sinAlpha * sinAlpha;
      cos2M = cos2Alpha > 1e-12 ? cosS - 2 * s0 * s1 / cos2Alpha : 0; // along the equator
      c = F / 16 * cos2Alpha * (4 + F * (4 - 3 * cos2Alpha));
      before = lambda;
      lambda = apart + (1 - c) * F * sinAlpha *
        (sigma + c * sinS * (cos2M + c * cosS * (2 * cos2M * cos2M - 1)));
      if (Math.abs(lambda - before) < ENOUGH) { break; }
    }
    if (turn === TURNS || Math.abs(lambda) > Math.PI) { return unknown; }
    u2 = cos2Alpha * (A_M * A_M - B_M * B_M) / (B_M * B_M);
    big = 1 + u2 / 16384 * (4096 + u2 * (-768 + u2 * (320 - 175 * u2)));
    small = u2 / 1024 * (256 + u2 * (-128 + u2 * (74 - 47 * u2)));
    shift = small * sinS * (cos2M + small / 4 * (cosS * (2 * cos2M * cos2M - 1) -
      small / 6 * cos2M * (4 * sinS * sinS - 3) * (4 * cos2M * cos2M - 3)));
    return { metres: B_M * big * (sigma - shift), bearing_deg: (Math.atan2(y, x) / RAD + 360) % 360 };
  }

  // Geocentric metres of a place on the ellipsoid, into out[at], out[at + 1], out[at + 2].
  function geocentric(lat_deg, lon_deg, out, at) {
    var lat = lat_deg * RAD, lon = lon_deg * RAD, sine = Math.sin(lat), cosine = Math.cos(lat);
    var prime = A_M / Math.sqrt(1 - E2 * sine * sine);
    out[at] = prime * cosine * Math.cos(lon);
    out[at + 1] = prime * cosine * Math.sin(lon);
    out[at + 2] = prime * (1 - E2) * sine;
  }

  // Python rounds a tie to the even neighbour; a tie to n digits is an odd count of 1 / 2^(n + 1).
  function even(value) {
    var low = Math.floor(value);
    return value - low !== 0.5 ? Math.round(value) : low % 2 === 0 ? low : low + 1;
  }

  function fixed(value, digits) {
    var size = Math.abs(value), halves = size * Math.pow(2, digits + 1), scale = Math.pow(10, digits);
    if (halves % 2 !== 1) { return value.toFixed(digits); }
    return (value < 0 ? "-" : "") + (even(size * scale) / scale).toFixed(digits);
  }

  function known(value) { return typeof value === "number" && isFinite(value); }

  // As units.format_length: 463.0 m (0.250 nmi)
  function lengthText(metres) {
    if (!known(metres)) { return say("geodesy.not_known"); }
    return say("geodesy.length", { metres: fixed(metres, 1), miles: fixed(metres / MILE_M + 0, 3) });
  }

  // For what is good to a metre or so, and must not look better: 523 m (0.28 nmi), 12 340 m (6.66 nmi)
  function roundText(metres) {
    if (!known(metres)) { return say("geodesy.not_known"); }
    return say("geodesy.length", { metres: String(Math.round(metres)), miles: (metres / MILE_M).toFixed(2) });
  }

  function minutes(angle_deg, width) {
    var all = even(Math.abs(angle_deg) * 60000), rest = all % 60000, degrees = String((all - rest) / 60000);
    while (degrees.length < width) { degrees = "0" + degrees; }
    return degrees + "°" + (rest < 10000 ? "0" : "") + (rest / 1000).toFixed(3) + "'";
  }

  // As units.format_position: 54°30.200'N 008°10.500'W
  function positionText(lat_deg, lon_deg) {
    var lon = Math.abs(lon_deg) > 180 ? wrapped(lon_deg) : lon_deg;
    if (!known(lat_deg) || !known(lon_deg)) { return say("geodesy.not_known"); }
    return minutes(lat_deg, 2) + (lat_deg >= 0 ? "N " : "S ") + minutes(lon, 3) + (lon >= 0 ? "E" : "W");
  }

  // Three digits, as bearings are spoken: 007°
  function bearingText(bearing_deg) {
    var whole;
    if (!known(bearing_deg)) { return say("geodesy.not_known"); }
    whole = ((Math.round(bearing_deg) % 360) + 360) % 360;
    return (whole < 10 ? "00" : whole < 100 ? "0" : "") + whole + "°";
  }

  return {
    start: start, inverse: inverse, geocentric: geocentric, wrapped: wrapped, known: known, even: even,
    lengthText: lengthText, roundText: roundText, positionText: positionText, bearingText: bearingText,
    radius_m: A_M, mile_m: MILE_M
  };
}());
