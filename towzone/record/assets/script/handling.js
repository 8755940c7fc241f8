/* Wheel and finger: the page keeps them until the chart is in use, that is, has the focus. Two fingers always
   belong to the chart, so that nobody is caught in it on a small screen. */
towzone.handling = (function () {
  "use strict";

  function start(record) {
    var map = record.map, chart = record.chart;

    function take(on) {
      map.scrollWheelZoom[on ? "enable" : "disable"]();
      if (L.Browser.mobile) { map.dragging[on ? "enable" : "disable"](); }
      chart.classList.toggle("in-use", on);
    }

    map.on("focus", function () { take(true); });
    map.on("blur", function () { take(false); });
    // Not every phone takes the focus away when a finger touches something that cannot have it.
    document.addEventListener("touchstart", function (event) {
      if (!chart.contains(event.target) && document.activeElement === chart) { chart.blur(); }
    }, { passive: true });
    take(false);
  }

  return { start: start };
}());
