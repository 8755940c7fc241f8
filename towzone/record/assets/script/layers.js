/* The layers of the chart, from the bottom up, and their switches in the key. */
towzone.layers = (function () {
  "use strict";

  var PANES = [["coast", 210], ["grid", 220], ["margins", 230], ["zones", 240], ["ellipses", 242], ["gear", 245],
    ["tracks", 250], ["findings", 260]];
  // Vertices of tracks and gear; up to here SVG is as quick as a canvas, and sharper (measured; own choice).
  var MOST_IN_SVG = 200000;
  var NARROW = "(max-width: 900px)"; // as in chart.css: the key lies below the chart

  function length(paths) {
    return paths.reduce(function (sum, path) { return sum + path.length / 2; }, 0);
  }

  function vertices(data) {
    var areas = 0;
    (data.gear || []).forEach(function (gear) {
      gear.corridor.concat(gear.likely).forEach(function (rings) { areas += length(rings); });
      areas += length(gear.paths.map(function (one) { return one.path; }));
    });
    return areas + length(data.tracks.map(function (track) { return track.path; }));
  }

  function start(record) {
    var map = record.map, groups = {}, many = vertices(record.data) > MOST_IN_SVG;

    record.renderers = {};
    PANES.forEach(function (pane) {
      var name = pane[0], options = { pane: "towzone-" + name, padding: 0.4 };
      map.createPane(options.pane).style.zIndex = pane[1];
      record.renderers[name] = many && (name === "tracks" || name === "gear") ? L.canvas(options) : L.svg(options);
    });
    map.createPane("towzone-words").style.zIndex = 270;
    map.createPane("towzone-pins").style.zIndex = 280;

    function switchOf(name) { return document.querySelector("input[data-layer='" + name + "']"); }

    record.layers = {
      of: function (name) {
        if (!groups[name]) { groups[name] = L.layerGroup(); }
        return groups[name];
      },
      shown: function (name) { return Boolean(groups[name]) && map.hasLayer(groups[name]); },
      turn: function (name, on) {
        if (switchOf(name)) { switchOf(name).checked = on; }
        if (on) { map.addLayer(record.layers.of(name)); } else { map.removeLayer(record.layers.of(name)); }
        record.emit("layer", { name: name, on: on });
      },
      // Once everything is drawn: what the key has switched on.
      open: function () {
        Object.keys(groups).forEach(function (name) {
          if (!switchOf(name) || switchOf(name).checked) { map.addLayer(groups[name]); }
        });
        towzone.base.all("input[data-layer]").forEach(function (input) {
          input.addEventListener("change", function () {
            record.layers.turn(input.getAttribute("data-layer"), input.checked);
          });
        });
        // On a narrow screen the key is folded, so that chart and results follow each other.
        if (window.matchMedia(NARROW).matches) {
          towzone.base.all(".legend details").forEach(function (details) { details.open = false; });
        }
      }
    };
  }

  return { start: start };
}());
