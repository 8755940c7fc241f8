/* Sections that fold: all open on paper, and on a narrow screen the longest closed to begin with. */
towzone.folds = (function () {
  "use strict";

  var LONG = ".legend > details, #assumptions > details";
  var CARDS = "#rows .of-row"; // where a row is a card, what was not found is brief
  var opened = [];

  // Browsers that cannot print a closed section open need this.
  function open() {
    opened = towzone.base.all("details").filter(function (section) { return !section.open; });
    opened.forEach(function (section) { section.open = true; });
  }

  // What the reader had closed is closed again.
  function close() {
    opened.forEach(function (section) { section.open = false; });
    opened = [];
  }

  // Who chose a row wants to see all of it.
  function unfold(detail) {
    var row = detail && detail.row ? document.querySelector("#row-" + detail.row + " .of-row") : null;
    if (row) { row.open = true; }
  }

  function start(record) {
    var narrow = window.matchMedia("(max-width: 900px)").matches;
    window.addEventListener("beforeprint", open);
    window.addEventListener("afterprint", close);
    if (narrow) { towzone.base.all(LONG).forEach(function (section) { section.open = false; }); }
    if (window.matchMedia("(max-width: 820px)").matches) {
      towzone.base.all(CARDS).forEach(function (section) { section.open = false; });
    }
    record.on("row", unfold);
  }

  return { start: start };
}());
