/* The vessel and its gear on the chart, at the moment all instruments share. Not covered: nothing is shown. */
towzone.vesselMark = (function () {
  "use strict";

  var HULL = "M10 1C14 5 15 9 14.5 17.5L5.5 17.5C5 9 6 5 10 1Z", BUOY = "M10 4A6 6 0 1 1 9.99 4Z";

  function start(record) {
    var map = record.map, renderer, warps, ground, boat, icon, parts = null;

    map.createPane("towzone-moment").style.zIndex = 285;
    map.getPane("towzone-moment").style.pointerEvents = "none";
    renderer = L.svg({ pane: "towzone-moment", padding: 0.4 });

    function path(className) {
      return L.polyline([], { className: className, renderer: renderer, interactive: false, smoothFactor: 0 });
    }

    warps = path("moment-warp");
    ground = path("moment-gear");
    parts = L.layerGroup();

    function make(name) {
      var svg = towzone.base.drawing(20, 20, "moment-vessel", name === "boat" ? HULL : BUOY);
      return { name: name, svg: svg, icon: L.divIcon({ className: "moment-mark", html: svg, iconSize: null }) };
    }

    function hide() {
      [warps, ground, parts].concat(boat ? [boat] : []).forEach(function (layer) { map.removeLayer(layer); });
    }

    function showVessel(here, course_deg) {
      var wanted = course_deg === null ? "buoy" : "boat";
      if (!icon || icon.name !== wanted) {
        if (boat) { map.removeLayer(boat); }
        icon = make(wanted);
        boat = L.marker([here.lat, here.lon], {
          icon: icon.icon, interactive: false, keyboard: false, pane: "towzone-moment"
        });
      }
      boat.setLatLng([here.lat, here.lon]).addTo(map);
      icon.svg.style.transform = course_deg === null ? "" : "rotate(" + course_deg.toFixed(1) + "deg)";
    }

    function showGear(here, gear) {
      var places = gear.map(function (part) { return [part.lat, part.lon]; }), hull;
      parts.clearLayers();
      if (!gear.length) {
        [warps, ground, parts].forEach(function (layer) { map.removeLayer(layer); });
        return;
      }
      hull = towzone.gearAt.hull(places);
      ground.setLatLngs(hull.concat(hull.slice(0, 1))).addTo(map);
      warps.setLatLngs(gear.filter(function (part) { return part.style !== "net"; }).map(function (part) {
        return [[here.lat, here.lon], [part.lat, part.lon]];
      })).addTo(map);
      gear.forEach(function (part) {
        parts.addLayer(L.circleMarker([part.lat, part.lon], {
          className: "moment-part g-" + part.style, radius: part.style === "net" ? 2.5 : 4, renderer: renderer,
          interactive: false
        }));
      });
      parts.addTo(map);
    }

    record.on("moment", function (detail) {
      var track = record.tracks[detail.track], here = track.at(detail.place), speed;
      if (!here.covered) { hide(); return; }
      speed = track.speed(detail.place);
      showVessel(here, speed === null ? null : speed.course_deg);
      showGear(here, record.gearAt(detail.track, here.time_s));
    });
  }

  return { start: start };
}());
