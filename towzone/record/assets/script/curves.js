/* The cursor on the clearance charts. */
towzone.curves = (function () {
  "use strict";

  function start(record) { return record; }

  return { start: start };
}());
