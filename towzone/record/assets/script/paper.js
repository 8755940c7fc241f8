/* On paper everything is open: browsers that cannot print closed sections open need this. */
towzone.paper = (function () {
  "use strict";

  var opened = [];

  function open() {
    opened = towzone.base.all("details").filter(function (section) { return !section.open; });
    opened.forEach(function (section) { section.open = true; });
  }

  // What the reader had closed is closed again.
  function close() {
    opened.forEach(function (section) { section.open = false; });
    opened = [];
  }

  function start() {
    window.addEventListener("beforeprint", open);
    window.addEventListener("afterprint", close);
  }

  return { start: start };
}());
