/* The vessel and its gear moving over the chart. */
towzone.playback = (function () {
  "use strict";

  function start(record) { return record; }

  return { start: start };
}());
