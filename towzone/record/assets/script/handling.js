/* Wheel and finger: the page keeps them until the chart is in use, that is, has the focus. Two fingers always
   belong to the chart, so that nobody is caught in it on a small screen. */
towzone.handling = (function () {
  "use strict";

  function start(record) {
    var map = record.map, chart = record.chart, quiet = false;

    function take(on) {
      map.scrollWheelZoom[on ? "enable" : "disable"]();
      if (L.Browser.mobile) { map.dragging[on ? "enable" : "disable"](); }
      chart.classList.toggle("in-use", on);
    }

    // The page may bring the focus here; the chart is in use then only after it was clicked or tapped.
    record.handling = {
      quietly: function (bring) {
        quiet = true;
        bring();
        quiet = false;
      }
    };

    // Into view when less than half of it is there; else the page stays where it is.
    record.bringChart = function () {
      var own = chart.getBoundingClientRect();
      var seen = Math.min(own.bottom, window.innerHeight) - Math.max(own.top, 0);
      if (seen < own.height / 2) { chart.scrollIntoView({ block: "nearest" }); }
    };

    // The chart and all of the read-out below it
    record.bringBoth = function () {
      var below = document.getElementById("readout").getBoundingClientRect().bottom;
      if (chart.getBoundingClientRect().top < 0 || below > window.innerHeight) { chart.scrollIntoView(); }
    };

    map.on("focus", function () { take(!quiet); });
    map.on("click", function () { if (document.activeElement === chart) { take(true); } });
    map.on("blur", function () { take(false); });
    // Not every phone takes the focus away when a finger touches something that cannot have it.
    document.addEventListener("touchstart", function (event) {
      if (!chart.contains(event.target) && document.activeElement === chart) { chart.blur(); }
    }, { passive: true });
    take(false);
  }

  return { start: start };
}());
