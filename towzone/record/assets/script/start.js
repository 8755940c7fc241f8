/* Puts the parts together; folium's script calls this with the map. */
function towzoneRecord(map) {
  "use strict";

  var root = document.documentElement, data;

  // If anything fails, the still chart comes back: it needs no script.
  window.addEventListener("error", function () { root.classList.remove("js"); });
  root.classList.add("js");

  data = JSON.parse(document.getElementById("chart-data").textContent);
  window.towzoneMap = map;
  var record = {
    map: map, data: data, chart: map.getContainer(),
    say: towzone.base.speaker(JSON.parse(document.getElementById("words").textContent))
  };
  towzone.base.bus(record);
  map.fitBounds(towzone.base.box(data.view), { animate: false });
  ["layers", "drawing", "grid", "labels", "selection", "tracks", "nearness", "probe", "measure", "playback", "curves",
    "table", "display"].forEach(function (part) {
    towzone[part].start(record);
  });
  record.layers.open();
  map.setMinZoom(map.getBoundsZoom(towzone.base.box(data.window), true));
  map.setMaxBounds(towzone.base.box(data.window));
  // The wheel scrolls the page until the chart is in use.
  map.on("focus", function () { map.scrollWheelZoom.enable(); });
  map.on("blur", function () { map.scrollWheelZoom.disable(); });
  record.emit("ready");
  towzone.record = record;
}
