/* Day, dusk, night, or as the device is set. */
towzone.display = (function () {
  "use strict";

  function start(record) {
    document.getElementById("mode").addEventListener("change", function (event) {
      document.documentElement.setAttribute("data-mode", event.target.value);
      record.emit("mode", { mode: event.target.value });
    });
  }

  return { start: start };
}());
