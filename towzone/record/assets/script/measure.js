/* Distance and bearing between two places on the chart, by mouse, finger or keyboard. */
towzone.measure = (function () {
  "use strict";

  var PARTS = 32; // of the drawn line, own choice

  // The shortest way as drawn: points of the straight line through the earth, brought up to the ellipsoid.
  function way(a, b) {
    var p = [0, 0, 0], q = [0, 0, 0], out = [], i, t, x, y, z, lon, e2 = (2 - 1 / 298.257223563) / 298.257223563;
    towzone.geodesy.geocentric(a.lat, a.lng, p, 0);
    towzone.geodesy.geocentric(b.lat, b.lng, q, 0);
    for (i = 0; i <= PARTS; i += 1) {
      t = i / PARTS;
      x = p[0] + t * (q[0] - p[0]);
      y = p[1] + t * (q[1] - p[1]);
      z = p[2] + t * (q[2] - p[2]);
      lon = Math.atan2(y, x) * 180 / Math.PI;
      lon += 360 * Math.round((a.lng + t * (b.lng - a.lng) - lon) / 360);
      out.push([Math.atan2(z, (1 - e2) * Math.sqrt(x * x + y * y)) * 180 / Math.PI, lon]);
    }
    return out;
  }

  function start(record) {
    var map = record.map, chart = record.chart, say = record.say, from = null, to = null, done = false, line, ends;
    var button = document.getElementById("measure"), said = document.getElementById("measured");
    var readout = document.getElementById("readout"), aloud = document.getElementById("instruments-said");

    map.createPane("towzone-measure").style.zIndex = 275;
    map.getPane("towzone-measure").style.pointerEvents = "none";
    line = L.polyline([], {
      className: "measure-line", interactive: false, smoothFactor: 0,
      renderer: L.svg({ pane: "towzone-measure", padding: 0.4 })
    });
    ends = L.layerGroup();

    function words() {
      var there, back, texts = towzone.geodesy;
      there = texts.inverse(from.lat, from.lng, to.lat, to.lng);
      back = texts.inverse(to.lat, to.lng, from.lat, from.lng);
      if (there.metres === null) { return say("measure.not_known"); }
      if (there.bearing_deg === null || back.bearing_deg === null) { return say("measure.same"); }
      return say("measure.result", {
        length: texts.lengthText(there.metres), there: texts.bearingText(there.bearing_deg),
        back: texts.bearingText(back.bearing_deg), from: texts.positionText(from.lat, from.lng),
        to: texts.positionText(to.lat, to.lng)
      });
    }

    function tell(text, loud) {
      said.textContent = text;
      if (loud) { aloud.textContent = text; }
    }

    function mark(at) {
      ends.addLayer(L.circleMarker(at, {
        className: "measure-end", radius: 4, interactive: false, renderer: line.options.renderer
      }));
    }

    function clear() {
      from = to = null;
      done = false;
      ends.clearLayers();
      map.removeLayer(line);
    }

    function draw() {
      line.setLatLngs(way(from, to)).addTo(map);
      tell(words(), false);
    }

    function choose(latlng) {
      if (done) { clear(); }
      if (from === null) {
        from = latlng;
        mark(from);
        tell(say("measure.second"), true);
        return;
      }
      to = latlng;
      done = true;
      mark(to);
      draw();
      aloud.textContent = said.textContent;
    }

    function turn(on, byKeys) {
      record.measuring = on;
      clear();
      chart.classList.toggle("measuring", on);
      chart.classList.toggle("by-keys", on && byKeys);
      if (!on) { said.parentNode.classList.remove("measuring"); }
      button.setAttribute("aria-pressed", String(on));
      button.textContent = say(on ? "measure.stop" : "measure.start");
      if (on) {
        map.addLayer(ends);
        // In the place of the read-out, with its height.
        said.style.minHeight = readout.offsetHeight + "px";
        record.bringChart();
        tell(say("measure.first"), true);
        said.parentNode.classList.add("measuring");
        if (byKeys) { chart.focus({ preventScroll: true }); }
      } else {
        map.removeLayer(ends);
        said.textContent = "";
        aloud.textContent = say("measure.ended");
      }
    }

    function preview(latlng) {
      if (record.measuring && from !== null && !done) {
        to = latlng;
        draw();
      }
    }

    map.on("click", function (event) { if (record.measuring) { choose(event.latlng); } });
    map.on("mousemove", function (event) {
      chart.classList.remove("by-keys");
      preview(event.latlng);
    });
    map.on("move", function () { if (chart.classList.contains("by-keys")) { preview(map.getCenter()); } });
    button.addEventListener("click", function (event) { turn(!record.measuring, event.detail === 0); });
    document.querySelector(".chart-part").addEventListener("keydown", function (event) {
      if (event.ctrlKey || event.altKey || event.metaKey || event.target.tagName === "SELECT") { return; }
      if (event.key === "m" || event.key === "M") { turn(!record.measuring, true); }
      if (event.key === "Escape" && record.measuring) { turn(false, false); }
      if (event.key === "Enter" && record.measuring && event.target === chart) {
        event.preventDefault();
        chart.classList.add("by-keys");
        choose(map.getCenter());
      }
      if (/^Arrow/.test(event.key) && record.measuring) { chart.classList.add("by-keys"); }
    });
    record.measuring = false;
  }

  return { start: start };
}());
