/* What is told of a moment, in words. Nothing is made up: what is not known is told as not known. */
towzone.readout = (function () {
  "use strict";

  var DRAWN_M = 2; // the drawing and its distances are good to 1.5 m; a limit nearer than that is in doubt

  // The time, or where there is none the number of the point.
  function whenOf(record, track, here) {
    if (here.time_s !== null) { return towzone.clock.text(here.time_s); }
    return record.say(here.exact ? "probe.point" : "probe.between_points", {
      point: here.fix + 1, next: here.fix + 2, count: track.count
    });
  }

  function timeOf(record, track, here) {
    var text = whenOf(record, track, here);
    return record.tracks.length > 1 ? record.say("probe.named", { what: text, track: track.name }) : text;
  }

  function motionOf(record, speed) {
    if (speed === null) { return record.say("probe.not_known"); }
    return record.say(speed.course_deg === null ? "probe.motion_still" : "probe.motion", {
      speed: speed.speed_kn.toFixed(1), course: towzone.geodesy.bearingText(speed.course_deg)
    });
  }

  function activityOf(record, here) {
    var activity = record.say("probe.activity." + here.activity);
    return here.tow === null ? activity : record.say("probe.tow", { activity: activity, tow: here.tow });
  }

  // A zone of very many corners is drawn with fewer, and is cut outside the chart: true_m away at the least.
  function lengthOf(record, near, zone) {
    if (zone.true_m !== null && Math.abs(near.metres) > zone.true_m - zone.off_m) {
      return record.say("probe.more_than", { length: towzone.geodesy.roundText(zone.true_m - zone.off_m) });
    }
    return record.say("probe.about", { length: towzone.geodesy.roundText(Math.abs(near.metres)) });
  }

  function clearanceOf(record, near, zone) {
    var length = lengthOf(record, near, zone), how;
    if (Math.abs(near.metres) < 0.5) { how = "reached"; }
    else if (zone.outside) { how = near.metres > 0 ? "allowed" : "left"; }
    else { how = near.metres > 0 ? "outside" : "inside"; }
    return record.say("probe.zone." + how, { name: zone.name, length: length });
  }

  // Kept is told only beyond all that is in doubt of the position and of the drawing.
  function verdict(zone, near, doubt_m) {
    var drawn_m = DRAWN_M + zone.off_m;
    var metres = zone.true_m === null ? near.metres : Math.min(near.metres, zone.true_m - zone.off_m);
    if (!near.inForce) { return "not_in_force"; }
    if (metres < -drawn_m) { return "beyond"; }
    if (metres < zone.margin_m - drawn_m) { return "not_kept"; }
    if (doubt_m === "figures") { return zone.margin_m > 0 ? "by_figures" : "edge"; }
    if (doubt_m === null || metres < zone.margin_m + doubt_m + drawn_m) {
      return zone.margin_m > 0 ? "in_doubt" : "edge";
    }
    return zone.margin_m > 0 ? "kept" : "no_margin";
  }

  function judged(record, near, doubt_m) {
    var zone = record.data.zones[near.zone], clearance = clearanceOf(record, near, zone);
    var how = verdict(zone, near, doubt_m);
    return how === "beyond" ? clearance : record.say("probe.zone." + how, {
      clearance: clearance, margin: towzone.geodesy.roundText(zone.margin_m)
    });
  }

  // A farther zone is told of where its margin is not kept, or may not be.
  function tightOf(record, near, doubt_m) {
    var how = near.tight ? verdict(record.data.zones[near.tight.zone], near.tight, doubt_m) : "kept";
    return how === "not_kept" || how === "in_doubt" ? judged(record, near.tight, doubt_m) : null;
  }

  function nearOf(record, near, doubt_m) {
    var text = near === null ? record.say("probe.zone.none") : judged(record, near, doubt_m);
    var tight = near === null ? null : tightOf(record, near, doubt_m);
    if (tight !== null) { text = record.say("probe.zone.also", { first: text, second: tight }); }
    if (near === null || !near.idle) { return text; }
    return record.say("probe.zone.and", {
      first: text, second: clearanceOf(record, near.idle, record.data.zones[near.idle.zone])
    });
  }

  function gearOf(record, detail, here) {
    var gear = record.gearAt(detail.track, here.time_s), places, drawn;
    drawn = (record.data.gear || []).some(function (one) { return one.track === detail.track; });
    if (!gear.length && drawn && !record.tracks[detail.track].timed) { return record.say("probe.gear.no_times"); }
    if (!gear.length) { return record.say("probe.gear.not_known"); }
    places = gear.map(function (one) { return [one.lat, one.lon]; });
    return nearOf(record, record.nearestShape(places), "figures");
  }

  // {time, position, motion, activity, zone, gear, said}
  function read(record, detail) {
    var track = record.tracks[detail.track], here = track.at(detail.place), gap, told, say = record.say;
    var doubt = document.getElementById("instruments").getAttribute("data-doubt-m");
    told = { time: timeOf(record, track, here) };
    if (!here.covered) {
      gap = track.gapAt(detail.place);
      told.position = gap ? gap.text : say("probe.not_covered");
      told.motion = told.activity = told.zone = told.gear = say("probe.not_known");
      told.said = say("probe.said_not_covered", told);
      return told;
    }
    told.position = towzone.geodesy.positionText(here.lat, here.lon);
    if (!here.exact) { told.position = say("probe.between", told); }
    told.motion = motionOf(record, track.speed(detail.place));
    told.activity = activityOf(record, here);
    told.zone = nearOf(record, record.nearest(here.lat, here.lon), doubt === null ? null : Number(doubt));
    told.gear = gearOf(record, detail, here);
    told.said = say("probe.said", told);
    return told;
  }

  return { read: read, when: whenOf };
}());
