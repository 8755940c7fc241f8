/* What every part of the record's script uses. Plain ECMAScript 5; the parts are put into one page in the
   order of towzone/record/assets.py, and each adds itself to this one global name.
   All text from files is set as text, never as markup. */
var towzone = {};

towzone.base = (function () {
  "use strict";

  var SVG = "http://www.w3.org/2000/svg";

  function element(name, className, text) {
    var node = document.createElement(name);
    if (className) { node.className = className; }
    if (text !== undefined) { node.textContent = text; }
    return node;
  }

  function button(id, className, text) {
    var node = element("button", className, text);
    node.type = "button";
    if (id) { node.id = id; }
    return node;
  }

  function shape(name, className) {
    var node = document.createElementNS(SVG, name);
    if (className) { node.setAttribute("class", className); }
    return node;
  }

  function drawing(width, height, className, d) {
    var svg = shape("svg"), path = shape("path", className);
    svg.setAttribute("width", width);
    svg.setAttribute("height", height);
    svg.setAttribute("aria-hidden", "true");
    path.setAttribute("d", d);
    svg.appendChild(path);
    return svg;
  }

  // [lon, lat, step, step, ...] in millionths of a degree to [[lat, lon], ...] in degrees.
  function positions(steps) {
    var out = [], lon = 0, lat = 0, i;
    for (i = 0; i < steps.length; i += 2) {
      lon += steps[i];
      lat += steps[i + 1];
      out.push([lat / 1e6, lon / 1e6]);
    }
    return out;
  }

  function box(whole) {
    return L.latLngBounds([whole[1] / 1e6, whole[0] / 1e6], [whole[3] / 1e6, whole[2] / 1e6]);
  }

  function all(selector) { return Array.prototype.slice.call(document.querySelectorAll(selector)); }

  // Words: the page brings them along, by key; {name} is replaced by a value. A missing key shows itself.
  function speaker(words) {
    return function (key, values) {
      var text = Object.prototype.hasOwnProperty.call(words, key) ? words[key] : key;
      return text.replace(/\{(\w+)\}/g, function (found, name) {
        return values && Object.prototype.hasOwnProperty.call(values, name) ? String(values[name]) : found;
      });
    };
  }

  // The parts speak to each other by events, so that none needs to know of the others.
  function bus(record) {
    var heard = {};
    record.on = function (name, listener) { (heard[name] = heard[name] || []).push(listener); };
    record.emit = function (name, detail) {
      (heard[name] || []).forEach(function (listener) { listener(detail); });
    };
  }

  return {
    element: element, button: button, shape: shape, drawing: drawing, positions: positions, box: box, all: all,
    speaker: speaker, bus: bus
  };
}());
