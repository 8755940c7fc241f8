/* The layers of the chart, from the bottom up, and their switches in the key. */
towzone.layers = (function () {
  "use strict";

  var PANES = [["coast", 210], ["grid", 220], ["margins", 230], ["zones", 240], ["gear", 245], ["tracks", 250],
    ["findings", 260]];

  function start(record) {
    var map = record.map, groups = {};

    record.renderers = {};
    PANES.forEach(function (pane) {
      map.createPane("towzone-" + pane[0]).style.zIndex = pane[1];
      record.renderers[pane[0]] = L.svg({ pane: "towzone-" + pane[0], padding: 0.4 });
    });
    map.createPane("towzone-words").style.zIndex = 270;
    map.createPane("towzone-pins").style.zIndex = 280;

    function switchOf(name) { return document.querySelector("input[data-layer='" + name + "']"); }

    record.layers = {
      of: function (name) {
        if (!groups[name]) { groups[name] = L.layerGroup(); }
        return groups[name];
      },
      shown: function (name) { return map.hasLayer(groups[name]); },
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
      }
    };
  }

  return { start: start };
}());
