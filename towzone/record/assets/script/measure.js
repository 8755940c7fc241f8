/* Distance between two places. */
towzone.measure = (function () {
  "use strict";

  function start(record) { return record; }

  return { start: start };
}());
