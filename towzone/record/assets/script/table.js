/* Sorting, filtering and copying the table. */
towzone.table = (function () {
  "use strict";

  function start(record) { return record; }

  return { start: start };
}());
