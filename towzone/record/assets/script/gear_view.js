/* The gear is narrow beside a whole trip: a button leads to where it comes nearest to a zone. */
towzone.gear_view = (function () {
  "use strict";

  var positions = towzone.base.positions;
  var CLOSE_UP_M = 1500; // how much sea is shown around a place of the gear: own choice

  function start(record) {
    var gear = record.data.gear || [], rows, button, shown = -1;
    if (!gear.length) { return; }
    rows = record.data.rows.filter(function (row) { return row.part === "gear" && row.line !== null; });
    button = towzone.base.button("gear-view", "", record.say("chart.gear"));
    document.getElementById("whole").parentNode.insertBefore(button, document.getElementById("whole"));
    button.addEventListener("click", function () {
      var area;
      ["gear", "likely", "parts"].forEach(function (name) { record.layers.turn(name, true); });
      if (rows.length) {
        shown = (shown + 1) % rows.length;
        record.emit("choose", { row: rows[shown].number, move: true });
        return;
      }
      shown = (shown + 1) % gear.length;
      area = (gear[shown].corridor[0] || gear[shown].likely[0] || [])[0] || gear[shown].paths[0].path;
      record.fit(L.latLng(positions(area)[0]).toBounds(CLOSE_UP_M));
    });
  }

  return { start: start };
}());
