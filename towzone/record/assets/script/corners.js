/* What stands in the corners of the chart: scale of nautical miles, north, and the zoom buttons. */
towzone.corners = (function () {
  "use strict";

  var element = towzone.base.element, drawing = towzone.base.drawing;
  var WIDE = 130; // pixels the scale may take; own choice

  function control(position, node) {
    var made = L.control({ position: position });
    made.onAdd = function () { return node; };
    return made;
  }

  function scale(record) {
    var map = record.map, node = element("div", "miles"), text = element("span"), bar = element("div");
    node.appendChild(text);
    node.appendChild(bar);
    function update() {
      var size = map.getSize(), y = size.y / 2;
      var most = map.distance(map.containerPointToLatLng([size.x / 2, y]),
        map.containerPointToLatLng([size.x / 2 + WIDE, y])) / 1852;
      var power = Math.pow(10, Math.floor(Math.log(most) / Math.LN10));
      var round = most >= 5 * power ? 5 * power : most >= 2 * power ? 2 * power : power;
      bar.style.width = (WIDE * round / most) + "px";
      text.textContent = record.say("chart.miles", { count: String(+round.toFixed(4)) });
    }
    map.on("moveend", update);
    update();
    return node;
  }

  function north(record) {
    var node = element("div", "to-north");
    node.appendChild(drawing(16, 22, "north", "M8 0L15 21L8 16L1 21Z"));
    node.appendChild(element("span", "", record.say("chart.north")));
    return node;
  }

  function zoom(record) {
    var node = element("div", "zoomer"), map = record.map;
    [["zoom-in", "+", 1], ["zoom-out", "−", -1]].forEach(function (one) {
      var button = towzone.base.button(one[0], "", one[1]);
      button.setAttribute("aria-label", record.say("chart." + one[0].replace("-", "_")));
      button.addEventListener("click", function () { map.zoomIn(one[2] * map.options.zoomDelta * 2); });
      node.appendChild(button);
    });
    L.DomEvent.disableClickPropagation(node);
    return node;
  }

  function start(record) {
    control("bottomleft", scale(record)).addTo(record.map);
    control("topright", north(record)).addTo(record.map);
    control("bottomright", zoom(record)).addTo(record.map);
  }

  return { start: start };
}());
