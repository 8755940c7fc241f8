/* Lines and areas of the chart by their class. On a canvas, which knows no style sheet, the same style is read
   from it and read again whenever day, dusk or night is chosen. */
towzone.paint = (function () {
  "use strict";

  var positions = towzone.base.positions, shape = towzone.base.shape;
  // Vertices up to which an exact line is drawn with every one of them; a longer one is true to a fifth of a
  // pixel. Own choice. None is drawn far beyond the view: the dashes of thousands of pixels would take seconds.
  var SHORT = 2000;

  function start(record) {
    var painted = [], styles = {}, sample = null;

    function read(className) {
      var path, style;
      if (!styles[className]) {
        if (!sample) {
          sample = shape("svg", "paint-sample");
          sample.setAttribute("width", 0);
          sample.setAttribute("height", 0);
          sample.setAttribute("aria-hidden", "true");
          record.chart.appendChild(sample);
        }
        path = sample.appendChild(shape("path", className));
        style = window.getComputedStyle(path);
        styles[className] = {
          stroke: style.stroke !== "none", color: style.stroke, weight: parseFloat(style.strokeWidth),
          opacity: Number(style.strokeOpacity), lineCap: style.strokeLinecap, lineJoin: style.strokeLinejoin,
          dashArray: style.strokeDasharray === "none" ? null : style.strokeDasharray.replace(/px/g, ""),
          fill: style.fill !== "none", fillColor: style.fill, fillOpacity: Number(style.fillOpacity)
        };
        sample.removeChild(path);
      }
      return styles[className];
    }

    function made(create, path, className, renderer, options) {
      var used = record.renderers[renderer], layer;
      options.className = className;
      options.renderer = used;
      options.interactive = false;
      if (used instanceof L.Canvas) {
        L.extend(options, read(className));
        layer = create(path, options);
        painted.push(layer);
        return layer;
      }
      return create(path, options);
    }

    // path: [[lat, lon], ...], or a list of such.
    function line(path, className, renderer, exact) {
      return made(L.polyline, path, className, renderer, {
        smoothFactor: exact && path.length <= SHORT ? 0 : 0.2
      });
    }

    // rings: paths as in the data, the outer one first.
    function area(rings, className, renderer) {
      return made(L.polygon, rings.map(positions), className, renderer, { smoothFactor: 0.2, fillRule: "evenodd" });
    }

    function mark(at, className, node, paneName) {
      return L.marker(at, {
        icon: L.divIcon({ className: className, html: node, iconSize: null }),
        interactive: false, keyboard: false, pane: paneName || "towzone-words"
      });
    }

    record.draw = { line: line, area: area, mark: mark };
    record.on("mode", function () {
      styles = {};
      painted.forEach(function (layer) { layer.setStyle(read(layer.options.className)); });
    });
  }

  return { start: start };
}());
