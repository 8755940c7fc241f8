/* The tracks: drawn by what the vessel did, with their gaps; and any stretch of one for others to draw. */
towzone.courses = (function () {
  "use strict";

  var positions = towzone.base.positions, ink = towzone.ink;
  // A light edge doubles what is drawn; up to here that costs nothing to be felt (own choice).
  var MOST_WITH_CASING = 50000;
  // What lies on top comes last.
  var ORDER = ["unknown", "not_towing", "planned", "shooting", "hauling", "towing"];
  var MOST_GAP_WORDS = 2000;

  // Every drawn fix as a place; longest loop of the page, hence no closures in it.
  function unfold(path) {
    var out = new Array(path.length / 2), lon = 0, lat = 0, i;
    for (i = 0; i < out.length; i += 1) {
      lon += path[2 * i];
      lat += path[2 * i + 1];
      out[i] = new L.LatLng(lat / 1e6, lon / 1e6);
    }
    return out;
  }

  function course(track) {
    var fixes = unfold(track.path), bends = track.bends || [];

    // From fix to fix, with the positions that draw long legs true.
    function stretch(first, last) {
      var out, from = first;
      if (!bends.length) { return fixes.slice(first, last + 1); }
      out = [];
      bends.forEach(function (bend) {
        if (bend[0] >= first && bend[0] < last) {
          out = out.concat(fixes.slice(from, bend[0] + 1), positions(bend[1]));
          from = bend[0] + 1;
        }
      });
      return out.concat(fixes.slice(from, last + 1));
    }

    return { fixes: fixes, stretch: stretch };
  }

  function start(record) {
    var put = record.put, line = record.draw.line, area = record.draw.area, all;
    var cased = record.data.tracks.reduce(function (sum, track) { return sum + track.path.length / 2; }, 0) <=
      MOST_WITH_CASING;

    function drawGaps(track, own) {
      var closed = [], open = [];
      track.gaps.forEach(function (gap, i) {
        var ends = [own.fixes[gap.fix], own.fixes[gap.fix + 1]];
        (gap.open ? open : closed).push(ends);
        if (gap.ellipse) {
          put("ellipses", area([gap.ellipse], "gap-ellipse" + (gap.open ? " open" : ""), "ellipses"), ink.SOFT);
        }
        if (i < MOST_GAP_WORDS) {
          record.words.push({ text: gap.text, className: "gap-word", layer: "gaps", most: ink.SOFT, ends: ends });
        }
      });
      if (closed.length) { put("gaps", line(closed, "gap", "tracks"), ink.LINE); }
      if (open.length) { put("gaps", line(open, "gap open", "tracks"), ink.LINE); }
    }

    // Runs that look the same are one line of many pieces, so that their number costs nothing.
    function grouped(track, own) {
      var groups = {}, alone = [];
      track.runs.forEach(function (run) {
        var key = run[2] + "/" + (run[3] === null ? "" : run[3]);
        if (run[0] === run[1]) {
          alone.push([own.fixes[run[0]], own.fixes[run[0]]]);
          return;
        }
        groups[key] = groups[key] || { activity: run[2], tow: run[3], paths: [] };
        groups[key].paths.push(own.stretch(run[0], run[1]));
      });
      return { alone: alone, groups: Object.keys(groups).map(function (key) { return groups[key]; }) };
    }

    function prepared(track, index) {
      var own = course(track), drawn = grouped(track, own);
      own.lines = [];
      drawn.groups.sort(function (a, b) { return ORDER.indexOf(a.activity) - ORDER.indexOf(b.activity); });
      return { track: track, index: index, own: own, groups: drawn.groups, alone: drawn.alone, name: track.layer };
    }

    function drawCasing(one) {
      if (!cased) { return; }
      one.groups.forEach(function (group) { put(one.name, line(group.paths, "track-casing", "tracks")); });
    }

    function drawLines(one) {
      var track = one.track, name = one.name;
      one.groups.forEach(function (group) {
        var className = "track t-" + track.kind + " a-" + group.activity + (track.corrected ? " corrected" : "");
        one.own.lines.push({
          layer: put(name, line(group.paths, className, "tracks"), group.tow === null ? ink.LINE : ink.THICK),
          tow: group.tow, track: one.index, name: name
        });
        // Hollow, so that it is told from the wanted line without any colour.
        if (track.corrected && group.activity === "planned") { put(name, line(group.paths, "track-core", "tracks")); }
      });
      if (one.alone.length) { put(name, line(one.alone, "lone-fix", "tracks"), ink.LINE); }
    }

    function drawEach(all) {
      all.forEach(function (one) {
        drawGaps(one.track, one.own);
        drawCasing(one);
        drawLines(one);
      });
    }

    // Of a plan the corrected lines lie below: where a wanted one runs as they do, it shows within their hollow.
    function drawPlan(all) {
      all.forEach(drawCasing);
      [true, false].forEach(function (corrected) {
        all.filter(function (one) { return one.track.corrected === corrected; }).forEach(drawLines);
      });
    }

    all = record.data.tracks.map(prepared);
    if (record.data.plan.length) { drawPlan(all); } else { drawEach(all); }
    record.courses = all.map(function (one) { return one.own; });
  }

  return { start: start };
}());
