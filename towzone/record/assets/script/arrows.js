/* Direction arrows along the tracks and the numbers of the tows, wherever the view is. */
towzone.arrows = (function () {
  "use strict";

  var drawing = towzone.base.drawing;
  var SPACING = 180, STEP = 12, MOST = 60; // pixels, pixels, arrows in one view: own choice

  function start(record) {
    var map = record.map, placed = L.layerGroup();

    function arrowAt(sample, corrected) {
      var arrow = drawing(18, 18, corrected ? "arrow corrected" : "arrow", "M9 1L14.5 15L9 12L3.5 15Z");
      var degrees = Math.atan2(sample.along.x, -sample.along.y) * 180 / Math.PI;
      arrow.style.transform = "rotate(" + degrees.toFixed(1) + "deg)";
      placed.addLayer(record.draw.mark(map.containerPointToLatLng([sample.x, sample.y]), "arrow-mark", arrow));
    }

    function towText(line) {
      var track = record.data.tracks[line.track];
      // Of a plan each line is one tow, and has a name of its own.
      if (record.data.plan.length) { return track.brief; }
      return record.data.tracks.length < 2 ? record.say("chart.tow", { tow: line.tow }) :
        record.say("chart.tow_of", { tow: line.tow, track: track.brief });
    }

    function wordOf(line, samples) {
      var tows = record.data.tracks[line.track].tows || [];
      var tow = tows.filter(function (one) { return one.tow === line.tow; })[0];
      return {
        text: towText(line), className: "tow-word" + (record.data.tracks[line.track].corrected ? " corrected" : "") + (tow ? " s-" + tow.status : ""),
        layer: "names", of: line.name, most: towzone.ink.SOFT,
        middles: function (width) {
          var out = [];
          [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8].forEach(function (share) {
            var one = samples[Math.floor(samples.length * share)];
            out = out.concat(towzone.labels.beside(one, one.along, width));
          });
          return out;
        }
      };
    }

    // The longest of the runs of a tow that can be seen carries its number.
    function place(shift, frame) {
      var words = {}, count = 0, inner = L.bounds(frame.min.add([8, 8]), frame.max.subtract([8, 8]));
      placed.clearLayers();
      record.courses.forEach(function (course) {
        course.lines.forEach(function (line) {
          var samples, every, i, key = line.track + "/" + line.tow;
          if (!record.layers.shown(line.name)) { return; }
          samples = towzone.ink.samples(line.layer, shift, inner, STEP);
          if (samples.length < 2) { return; }
          every = Math.round(SPACING / STEP);
          for (i = Math.min(Math.floor(every / 2), Math.floor(samples.length / 2)); i < samples.length; i += every) {
            if (count < MOST) { arrowAt(samples[i], record.data.tracks[line.track].corrected); }
            count += 1;
          }
          if (line.tow !== null && (!words[key] || words[key].samples < samples.length)) {
            words[key] = wordOf(line, samples);
            words[key].samples = samples.length;
          }
        });
      });
      return Object.keys(words).map(function (key) { return words[key]; });
    }

    record.placeArrows = place;
    record.on("ready", function () { placed.addTo(map); });
  }

  return { start: start };
}());
