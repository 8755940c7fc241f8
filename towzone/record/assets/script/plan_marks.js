/* Places of a plan: corners, where towing begins, the haul call, the latest contact, the narrowest place. */
towzone.plan_marks = (function () {
  "use strict";

  var shape = towzone.base.shape, ink = towzone.ink;
  var HALF = 12; // pixels that the greatest mark reaches to either side
  var GAPS = [1, 8, 20], TURNS = [[0, -1], [0, 1], [1, 0], [-1, 0], [0.7, -0.7], [-0.7, -0.7], [0.7, 0.7], [-0.7, 0.7]];

  function drawn(mark) {
    var svg = shape("svg"), path = shape("path", "plan-mark p-" + mark.kind + (mark.corrected ? " corrected" : ""));
    svg.setAttribute("width", 2 * HALF);
    svg.setAttribute("height", 2 * HALF);
    svg.setAttribute("viewBox", [-HALF, -HALF, 2 * HALF, 2 * HALF].join(" "));
    svg.setAttribute("aria-hidden", "true");
    path.setAttribute("d", mark.shape);
    svg.appendChild(path);
    return svg;
  }

  function start(record) {
    var map = record.map, layer = record.layers.of, marks = record.data.plan;

    function pixel(mark) { return map.latLngToContainerPoint([mark.place[1] / 1e6, mark.place[0] / 1e6]); }

    function square(a, b) { return (a[0] - b.x) * (a[0] - b.x) + (a[1] - b.y) * (a[1] - b.y); }

    // Words stand around their mark, nearer to it than to any other; none where it is out of view.
    function around(mark) {
      return function (width) {
        var place = pixel(mark), out = [], others;
        if (!L.bounds([0, 0], map.getSize()).contains(place)) { return out; }
        others = marks.map(pixel).filter(function (one) { return !one.equals(place); });
        GAPS.forEach(function (gap) {
          TURNS.forEach(function (turn) { out.push(record.away(place, turn[0], turn[1], HALF / 2 + gap, width)); });
        });
        return out.filter(function (middle) {
          return others.every(function (one) { return square(middle, one) > square(middle, place); });
        });
      };
    }

    marks.forEach(function (mark) {
      var at = [mark.place[1] / 1e6, mark.place[0] / 1e6];
      layer("plan").addLayer(record.draw.mark(at, "plan-place", drawn(mark)));
      if (!mark.text) { return; }
      record.words.push({
        text: mark.text, className: "plan-word" + (mark.corrected ? " corrected" : ""), layer: "plan",
        most: ink.LINE, middles: around(mark)
      });
    });
    record.on("edges", function () {
      if (!record.layers.shown("plan")) { return; }
      marks.forEach(function (mark) {
        var place = pixel(mark);
        record.sheet.box(place.x - HALF / 2, place.y - HALF / 2, HALF, HALF, ink.LINE);
      });
    });
  }

  return { start: start };
}());
