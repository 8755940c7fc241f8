/* The nearest zone and its clearance. */
towzone.nearness = (function () {
  "use strict";

  function start(record) { return record; }

  return { start: start };
}());
