/* Moving along a track: slider, play and pause, and the closest approach of the chosen row. */
towzone.playback = (function () {
  "use strict";

  var FRAME_MS = 66, CALM_MS = 1000, UNTIMED_S = 30; // own choices; a track without times plays in half a minute

  function start(record) {
    var map = record.map, track = 0, place = 0, frame = null, shown_ms = 0, moved_ms = 0;
    var slider = document.getElementById("moment-slider"), play = document.getElementById("play");
    var pace = document.getElementById("pace"), choice = document.getElementById("moment-track");
    var calm = window.matchMedia("(prefers-reduced-motion: reduce)");

    function own() { return record.tracks[track]; }

    // The slider counts seconds since the first fix, or fixes where there are no times.
    function first() { return own().timed ? own().times[0] : 0; }
    function span() { return own().timed ? own().times[own().count - 1] - first() : own().count - 1; }

    function tell() {
      var here = own().at(place), text = towzone.readout.when(record, own(), here);
      if (!here.covered) { text = record.say("playback.not_covered", { time: text }); }
      slider.setAttribute("aria-valuetext", text);
    }

    function set() {
      slider.max = String(span());
      slider.step = own().timed ? String(Math.max(1, Math.round(span() / 2000))) : "1";
      slider.disabled = play.disabled = !(span() > 0);
      pace.disabled = !own().timed;
      choice.value = String(track);
    }

    // Into view again, but only when the vessel has left it.
    function follow() {
      var here = own().at(place);
      if (here.covered && !map.getBounds().pad(-0.05).contains([here.lat, here.lon])) {
        map.panTo([here.lat, here.lon], { animate: false });
      }
    }

    function show(at) {
      place = Math.min(Math.max(at, 0), own().count - 1);
      record.emit("moment", { track: track, place: place, source: "playback" });
      follow();
    }

    function ahead(seconds) {
      var time_s;
      if (!own().timed) { return place + seconds * (own().count - 1) / UNTIMED_S; }
      time_s = own().timeAt(place) + seconds * Number(pace.value);
      return time_s >= first() + span() ? own().count - 1 : own().placeAt(time_s);
    }

    function stop() {
      if (frame !== null) { window.cancelAnimationFrame(frame); }
      frame = null;
      record.playing = false;
      play.textContent = record.say("playback.play");
      tell();
    }

    function tick(now) {
      if (moved_ms === 0) { shown_ms = moved_ms = now; }
      if (now - shown_ms >= (calm.matches ? CALM_MS : FRAME_MS)) {
        // A page that was out of sight does not jump ahead.
        show(ahead(Math.min(now - moved_ms, 2 * CALM_MS) / 1000));
        shown_ms = moved_ms = now;
      }
      if (place >= own().count - 1) { stop(); return; }
      frame = window.requestAnimationFrame(tick);
    }

    function toggle() {
      if (record.playing) { stop(); return; }
      if (!(span() > 0)) { return; }
      if (place >= own().count - 1) { show(0); }
      record.playing = true;
      record.bringChart();
      moved_ms = 0;
      play.textContent = record.say("playback.pause");
      frame = window.requestAnimationFrame(tick);
    }

    function chosen(detail) {
      var row = detail.row === null ? null : record.data.rows[detail.row - 1], at = null, line;
      if (row === null || row.track === null || row.track === undefined) { return; }
      if (row.gap !== null) { at = record.data.tracks[row.track].gaps[row.gap].fix + 0.5; }
      else if (row.time !== null) { at = record.tracks[row.track].placeAt(row.time); }
      else if (row.line !== null && row.part === "vessel") {
        line = towzone.base.positions(row.line)[0];
        at = record.tracks[row.track].nearest({ lat: line[0], lng: line[1] }, true);
        at = at === null ? null : at.place;
      }
      if (at !== null) { record.emit("moment", { track: row.track, place: at, source: "row" }); }
    }

    record.on("moment", function (detail) {
      if (record.playing && detail.source !== "playback") { stop(); }
      if (detail.track !== track) { track = detail.track; set(); }
      place = detail.place;
      if (document.activeElement !== slider || detail.source !== "playback" || record.playing) {
        slider.value = String(own().timed ? own().timeAt(place) - first() : place);
      }
      if (!record.playing) { tell(); }
      if (record.stepped) { follow(); }
    });
    record.on("row", chosen);
    // The record opens at the worst moment that has a place on the track, else at the first fix.
    record.on("ready", function () {
      if (record.data.rows.length && record.data.rows[0].matters) { chosen({ row: record.data.rows[0].number }); }
      if (record.moment.source === null && own().count) { show(0); }
    });

    slider.addEventListener("input", function () {
      // The steps of the slider need not meet the end.
      var at = Number(slider.value), end = at + Number(slider.step) > span();
      if (record.playing) { stop(); }
      show(own().timed ? (end ? own().count - 1 : own().placeAt(first() + at)) : at);
    });
    play.addEventListener("click", toggle);
    choice.addEventListener("change", function () {
      track = Number(choice.value);
      set();
      show(0);
    });
    document.querySelector(".chart-part").addEventListener("keydown", function (event) {
      var target = event.target;
      var busy = /^(BUTTON|SELECT|SUMMARY|A|TEXTAREA)$/.test(target.tagName) || target.type === "checkbox";
      if (event.key === "Escape" && record.playing) { stop(); }
      if (event.key === " " && !busy && !event.defaultPrevented) {
        event.preventDefault();
        toggle();
      }
    });
    record.tracks.forEach(function (one, index) {
      var option = towzone.base.element("option", "", one.name);
      option.value = String(index);
      choice.appendChild(option);
    });
    document.getElementById("of-track").hidden = record.tracks.length < 2;
    record.playing = false;
    set();
    slider.value = "0";
    tell();
  }

  return { start: start };
}());
