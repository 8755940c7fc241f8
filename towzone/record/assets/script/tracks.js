/* Where vessel and gear were at a place of a track or at a time. */
towzone.tracks = (function () {
  "use strict";

  function start(record) { return record; }

  return { start: start };
}());
