/* Choosing a row: from the table to the chart and back, and one after the other. */
towzone.selection = (function () {
  "use strict";

  var CLOSEST_ZOOM = 16;
  var positions = towzone.base.positions, box = towzone.base.box, all = towzone.base.all;

  function start(record) {
    var map = record.map, data = record.data, chart = record.chart, line = record.draw.line;
    var chosen = null, chosenLine = null;
    var said = document.getElementById("chosen"), toRow = document.getElementById("to-row");

    function button(number) { return document.querySelector("button.show[data-row='" + number + "']"); }

    function whole() { map.fitBounds(box(data.view), { animate: false }); }

    function boundsOf(row) {
      var zone = row.zone === null ? null : data.zones[row.zone], whole = [];
      if (row.line !== null) { return L.latLngBounds(positions(row.line)); }
      if (zone !== null) {
        zone.shapes.areas.concat(zone.shapes.lines, zone.points.map(positions)).forEach(function (path) {
          whole = whole.concat(path);
        });
      }
      return whole.length ? L.latLngBounds(whole) : box(data.view);
    }

    function release() {
      if (chosen === null) { return; }
      document.getElementById("row-" + chosen).classList.remove("picked");
      button(chosen).removeAttribute("aria-pressed");
      if (record.pins[chosen] && record.pins[chosen].marker.getElement()) {
        record.pins[chosen].marker.getElement().classList.remove("picked");
      }
      if (chosenLine) { map.removeLayer(chosenLine); chosenLine = null; }
      chosen = null;
    }

    function choose(number, move) {
      var row = data.rows[number - 1];
      release();
      chosen = number;
      document.getElementById("row-" + number).classList.add("picked");
      button(number).setAttribute("aria-pressed", "true");
      if (record.pins[number]) { record.layers.turn(record.pins[number].layer, true); }
      if (row.line !== null) {
        chosenLine = L.layerGroup([
          line(positions(row.line), "chosen-line", "findings", true)
        ]).addTo(map);
      }
      if (move) {
        map.fitBounds(boundsOf(row).pad(0.8), { animate: false, maxZoom: CLOSEST_ZOOM, padding: [30, 30] });
        chart.scrollIntoView({ block: "nearest" });
      }
      if (record.pins[number] && record.pins[number].marker.getElement()) {
        record.pins[number].marker.getElement().classList.add("picked");
      }
      said.textContent = number + ", " + row.word.toLowerCase() + ": " + row.text;
      toRow.hidden = false;
      document.getElementById("previous").disabled = number <= 1;
      document.getElementById("next").disabled = number >= data.rows.length;
      record.emit("row", { row: number });
    }

    all("button.show").forEach(function (one) {
      one.addEventListener("click", function () { choose(Number(one.getAttribute("data-row")), true); });
    });
    document.getElementById("previous").addEventListener("click", function () {
      choose(chosen === null ? 1 : Math.max(chosen - 1, 1), true);
    });
    document.getElementById("next").addEventListener("click", function () {
      choose(chosen === null ? 1 : Math.min(chosen + 1, data.rows.length), true);
    });
    document.getElementById("previous").disabled = data.rows.length === 0;
    document.getElementById("next").disabled = data.rows.length === 0;
    document.getElementById("whole").addEventListener("click", function () { release(); whole(); });
    toRow.addEventListener("click", function () {
      document.getElementById("row-" + chosen).scrollIntoView({ block: "center" });
      button(chosen).focus();
    });
    record.on("choose", function (detail) { choose(detail.row, Boolean(detail.move)); });
    record.whole = whole;
  }

  return { start: start };
}());
