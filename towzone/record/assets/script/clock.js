/* Times as text, UTC and local. */
towzone.clock = (function () {
  "use strict";

  function start(record) { return record; }

  return { start: start };
}());
