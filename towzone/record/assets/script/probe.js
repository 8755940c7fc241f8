/* The read-out: what is known of the moment all instruments share, found by pointing, tapping or stepping. */
towzone.probe = (function () {
  "use strict";

  var NEAR_PX = 14, TAP_PX = 28; // own choices
  var all = towzone.base.all;

  function start(record) {
    var map = record.map, fields = {}, pending = null, part = document.querySelector(".chart-part");
    var aloud = document.getElementById("instruments-said"), boxes = all("#readout div"), heights = [];

    all("#readout dd").forEach(function (dd) { fields[dd.getAttribute("data-reading")] = dd; });
    record.moment = { track: 0, place: 0, source: null };

    function show(track, place, source) { record.emit("moment", { track: track, place: place, source: source }); }

    function pixels(track, place, latlng) {
      var here = record.tracks[track].at(place);
      // The chart may show the same water a whole turn away.
      var lon = here.lon + 360 * Math.round((latlng.lng - here.lon) / 360);
      return map.latLngToContainerPoint([here.lat, lon]).distanceTo(map.latLngToContainerPoint(latlng));
    }

    // The fix, or else the place between fixes, nearest to where one points; on the nearest track.
    function pointed(latlng, within_px) {
      var best = null;
      record.tracks.forEach(function (track, index) {
        var found, place;
        if (!record.layers.shown(track.layer)) { return; }
        found = track.nearest(latlng, true);
        if (found === null || (best !== null && best.metres <= found.metres)) { return; }
        place = Math.round(found.place);
        if (pixels(index, place, latlng) > within_px) { place = found.place; }
        if (pixels(index, place, latlng) <= within_px) {
          best = { track: index, place: place, metres: found.metres };
        }
      });
      return best;
    }

    function point(latlng, within_px) {
      var found = record.measuring ? null : pointed(latlng, within_px);
      if (found !== null && (found.track !== record.moment.track || found.place !== record.moment.place ||
          record.moment.source === null)) {
        show(found.track, found.place, "probe");
      }
      return found;
    }

    function step(count) {
      var at = record.moment, track = record.tracks[at.track];
      var place = count > 0 ? Math.floor(at.place) : Math.ceil(at.place);
      if (track.count === 0) { return; }
      place = at.source === null ? 0 : Math.min(Math.max(place + count, 0), track.count - 1);
      record.aloud = true;
      record.stepped = true;
      record.bringChart();
      show(at.track, place, "probe");
      record.stepped = false;
    }

    // Once a reading has needed more lines it keeps their room: the page below never moves to and fro.
    function keepHeight() {
      boxes.forEach(function (box, i) {
        var height = box.offsetHeight;
        if (height > heights[i]) {
          heights[i] = height;
          box.style.minHeight = height + "px";
        }
      });
    }

    function freeHeight() {
      boxes.forEach(function (box, i) {
        heights[i] = 0;
        box.style.minHeight = "";
      });
    }

    map.on("mousemove", function (event) {
      if (pending === null && !record.playing) {
        window.requestAnimationFrame(function () {
          if (pending !== null) { point(pending, NEAR_PX); }
          pending = null;
        });
      }
      pending = record.playing ? null : event.latlng;
    });
    map.on("click", function (event) { point(event.latlng, TAP_PX); });
    all("button[data-step]").forEach(function (button) {
      button.addEventListener("click", function () { step(Number(button.getAttribute("data-step"))); });
    });
    part.addEventListener("keydown", function (event) {
      var way = event.key === "." || event.key === ">" ? 1 : event.key === "," || event.key === "<" ? -1 : 0;
      if (event.ctrlKey || event.altKey || event.metaKey || event.target.tagName === "SELECT") { return; }
      // With Shift some keyboards write other signs; the place of the key tells.
      if (way === 0 && event.shiftKey) { way = event.code === "Period" ? 1 : event.code === "Comma" ? -1 : 0; }
      if (way === 0) { return; }
      event.preventDefault();
      step(event.key === "." || event.key === "," ? way : 10 * way);
    });

    record.on("moment", function (detail) {
      var told = towzone.readout.read(record, detail);
      record.moment = { track: detail.track, place: detail.place, source: detail.source };
      Object.keys(fields).forEach(function (name) {
        if (fields[name].textContent !== told[name]) { fields[name].textContent = told[name]; }
      });
      keepHeight();
      if (record.aloud) { aloud.textContent = told.said; }
      record.aloud = false;
    });

    window.addEventListener("resize", freeHeight);
    freeHeight();
    Object.keys(fields).forEach(function (name) { fields[name].textContent = record.say("probe.nothing"); });
  }

  return { start: start };
}());
