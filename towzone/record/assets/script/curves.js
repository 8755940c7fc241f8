/* The cursor on the drawings of clearance against time: one moment, the same on all drawings of a track and on
   the chart. Without the positions of the track the drawings stay plain pictures. */
towzone.curves = (function () {
  "use strict";

  var element = towzone.base.element, all = towzone.base.all;
  var KEYS = { ArrowLeft: -1, ArrowRight: 1, PageDown: -20, PageUp: 20 }; // columns; own choice

  // [[place, value], ...] between which both go evenly, for tracks without all their times.
  function knotsOf(svg) {
    var text = svg.getAttribute("data-knots");
    return text === null ? null : text.split(";").map(function (pair) { return pair.split(",").map(Number); });
  }

  function between(knots, from, to, value) {
    var low = 0, high = knots.length - 1, middle, a, b;
    if (!(value >= knots[low][from] && value <= knots[high][from])) { return null; }
    while (high - low > 1) {
      middle = (low + high) >> 1;
      if (knots[middle][from] <= value) { low = middle; } else { high = middle; }
    }
    a = knots[low];
    b = knots[high];
    return b[from] > a[from] ? a[to] + (value - a[from]) / (b[from] - a[from]) * (b[to] - a[to]) : a[to];
  }

  function curveOf(record, svg) {
    var track = Number(svg.getAttribute("data-track")), drawn = record.tracks && record.tracks[track];
    var first = Number(svg.getAttribute("data-first")), last = Number(svg.getAttribute("data-last"));
    var timed = svg.getAttribute("data-timed") === "1", columns = Number(svg.getAttribute("data-columns"));
    var knots = knotsOf(svg), area = element("div", "curve-cursor"), line = element("i"), said = element("b");
    var now = null;

    if (!drawn) { return null; }

    function placeAt(value) { return knots ? between(knots, 1, 0, value) : drawn.placeAt(value); }

    function valueAt(place) { return knots ? between(knots, 0, 1, place) : drawn.timeAt(place); }

    function words(value) {
      return timed ? towzone.clock.text(value) : record.say("curves.way", { miles: (value / 1852).toFixed(2) });
    }

    function show(place) {
      var value = valueAt(place), there = value !== null && value >= first && value <= last;
      line.hidden = said.hidden = !there;
      now = there ? value : null;
      if (!there) { return; }
      line.style.left = 100 * (value - first) / (last - first) + "%";
      said.textContent = words(value);
      area.setAttribute("aria-valuenow", String(Math.round(value - first)));
      area.setAttribute("aria-valuetext", words(value));
    }

    function tell(value) {
      var place = placeAt(Math.min(Math.max(value, first), last));
      if (place !== null) { record.emit("moment", { track: track, place: place, source: "curves" }); }
    }

    function pointed(event) {
      var box = area.getBoundingClientRect();
      return first + (last - first) * Math.min(Math.max((event.clientX - box.left) / box.width, 0), 1);
    }

    // The row whose stretch holds a value; of several the one on top.
    function rowAt(value) {
      var share = 100 * (value - first) / (last - first), found = null;
      Array.prototype.forEach.call(svg.querySelectorAll("rect.shade"), function (shade) {
        var x = parseFloat(shade.getAttribute("x")), width = parseFloat(shade.getAttribute("width"));
        if (share >= x && share <= x + width) { found = Number(shade.getAttribute("data-row")); }
      });
      return found;
    }

    function choose(value) {
      var row = rowAt(value);
      if (row !== null) { record.emit("choose", { row: row, move: true }); }
    }

    function key(event) {
      var step = KEYS[event.key], at = now === null ? (first + last) / 2 : now;
      if (event.altKey || event.ctrlKey || event.metaKey) { return; }
      if (event.key === "Home") { at = first; } else if (event.key === "End") { at = last; }
      else if (event.key === "Enter" && now !== null) { choose(now); }
      else if (step) { at += step * (last - first) / columns; } else { return; }
      event.preventDefault();
      if (event.key !== "Enter") { tell(at); }
    }

    area.tabIndex = 0;
    area.setAttribute("role", "slider");
    area.setAttribute("aria-label", record.say("curves.cursor"));
    area.setAttribute("aria-valuemin", "0");
    area.setAttribute("aria-valuemax", String(Math.round(last - first)));
    area.setAttribute("aria-valuenow", "0");
    area.setAttribute("aria-valuetext", record.say("curves.nowhere"));
    area.appendChild(line);
    area.appendChild(said);
    line.hidden = said.hidden = true;
    svg.parentNode.appendChild(area);
    area.addEventListener("pointerdown", function (event) { tell(pointed(event)); });
    area.addEventListener("pointermove", function (event) {
      if (event.pointerType === "mouse" || event.buttons) { tell(pointed(event)); }
    });
    area.addEventListener("click", function (event) { choose(pointed(event)); });
    area.addEventListener("keydown", key);
    return { track: track, show: show };
  }

  function start(record) {
    var curves = null;

    // The tracks start before or after this part; by then all of them are there.
    record.on("ready", function () {
      curves = all("#curves svg.curve").map(function (svg) { return curveOf(record, svg); });
      curves = curves.filter(function (curve) { return curve !== null; });
    });
    record.on("moment", function (detail) {
      (curves || []).forEach(function (curve) { if (curve.track === detail.track) { curve.show(detail.place); } });
    });
    record.on("row", function (detail) {
      all("#curves svg [data-row]").forEach(function (mark) {
        mark.classList.toggle("picked", Number(mark.getAttribute("data-row")) === detail.row);
      });
    });
  }

  return { start: start };
}());
