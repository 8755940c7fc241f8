/* Puts the parts together; folium's script calls this with the map. */
function towzoneRecord(map) {
  "use strict";

  var root = document.documentElement, data, record;

  // If anything fails, the still chart comes back: it needs no script.
  window.addEventListener("error", function () { root.classList.remove("js"); });
  root.classList.add("js");

  data = JSON.parse(document.getElementById("chart-data").textContent);
  window.towzoneMap = map;
  record = {
    map: map, data: data, chart: map.getContainer(),
    say: towzone.base.speaker(JSON.parse(document.getElementById("words").textContent))
  };
  towzone.base.bus(record);
  map.fitBounds(towzone.base.box(data.view), { animate: false });
  ["geodesy", "clock", "display", "folds", "layers", "paint", "drawing", "courses", "rows", "plan_marks", "corners", "grid", "pins",
    "arrows", "labels", "keys", "handling", "selection", "gear_view", "tracks", "gearAt", "nearness", "vesselMark",
    "probe", "measure", "playback", "curves", "table"].forEach(function (part) { towzone[part].start(record); });
  record.layers.open();
  map.setMinZoom(map.getBoundsZoom(towzone.base.box(data.window), true));
  map.setMaxBounds(towzone.base.box(data.window));
  record.emit("ready");
  towzone.record = record;
  // Two frames on, what was drawn is on the screen.
  window.requestAnimationFrame(function () {
    window.requestAnimationFrame(function () {
      record.chart.setAttribute("data-ready", "true");
      if (window.performance && window.performance.mark) { window.performance.mark("towzone-ready"); }
    });
  });
}
