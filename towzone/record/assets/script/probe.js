/* The read-out of a fix: hover, tap, keyboard. */
towzone.probe = (function () {
  "use strict";

  function start(record) { return record; }

  return { start: start };
}());
