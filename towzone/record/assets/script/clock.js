/* Times as text, UTC and beside it the time on board; the same words as towzone/record/clock.py. */
towzone.clock = (function () {
  "use strict";

  var offsets = [], say = function (key) { return key; };

  // data.clock.offsets: [[from, offset], ...], seconds since 1970 and seconds east of UTC.
  function start(record) {
    say = record.say;
    offsets = record.data.clock ? record.data.clock.offsets : [];
    record.clock = { text: text, utc: utc, local: local };
  }

  function two(value) { return (value < 10 ? "0" : "") + value; }

  function known(time_s) { return typeof time_s === "number" && isFinite(time_s); }

  // Rounded down to the second, like the times of the tables.
  function parts(time_s) {
    var at = new Date(Math.floor(time_s) * 1000), year = String(at.getUTCFullYear());
    while (year.length < 4) { year = "0" + year; }
    return {
      date: year + "-" + two(at.getUTCMonth() + 1) + "-" + two(at.getUTCDate()),
      time: two(at.getUTCHours()) + ":" + two(at.getUTCMinutes()) + ":" + two(at.getUTCSeconds())
    };
  }

  function offsetAt(time_s) {
    var found = null, i;
    for (i = 0; i < offsets.length && (i === 0 || offsets[i][0] <= time_s); i += 1) { found = offsets[i][1]; }
    return found;
  }

  function offsetText(offset_s) {
    var minutes = towzone.geodesy.even(offset_s / 60), size = Math.abs(minutes), rest = size % 60;
    return (minutes < 0 ? "-" : "+") + (size - rest) / 60 + (rest ? ":" + two(rest) : "");
  }

  function utc(time_s) {
    var at;
    if (!known(time_s)) { return say("shared.clock.not_known"); }
    at = parts(time_s);
    return say("clock.utc", { date: at.date, time: at.time });
  }

  // With its date where that is not the date of UTC; null where no offset is known.
  function local(time_s) {
    var offset = offsetAt(time_s), here, there;
    if (!known(time_s) || offset === null) { return null; }
    here = parts(time_s);
    there = parts(time_s + offset);
    return say("clock.local", {
      time: (here.date === there.date ? "" : there.date + " ") + there.time, offset: offsetText(offset)
    });
  }

  function text(time_s) {
    var there = local(time_s);
    return there === null ? utc(time_s) : say("clock.both", { utc: utc(time_s), local: there });
  }

  return { start: start, text: text, utc: utc, local: local };
}());
