/* Distances and bearings on the ellipsoid. */
towzone.geodesy = (function () {
  "use strict";

  function start(record) { return record; }

  return { start: start };
}());
