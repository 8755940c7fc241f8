/* Keys: heard while the chart or anything around it has the focus, and listed there. */
towzone.keys = (function () {
  "use strict";

  var element = towzone.base.element;
  // Key as shown, entry of [keys] that says what it does; each has a button too.
  var LIST = [["n", "next"], ["p", "previous"], ["Esc", "end"], ["← ↑ → ↓", "move"],
    ["+ −", "zoom"], [".", "next_fix"], [",", "previous_fix"], ["m", "measure"], ["space", "play"], ["Enter", "pin"]];
  var TYPED = /^(?:INPUT|SELECT|TEXTAREA)$/;

  function list(record) {
    var details = element("details", "keys"), rows = element("dl");
    details.appendChild(element("summary", "", record.say("keys.title")));
    details.appendChild(element("p", "note", record.say("keys.where")));
    LIST.forEach(function (one) {
      var pair = element("div"), name = element("dt");
      name.appendChild(element("kbd", "", one[1] === "play" ? record.say("keys.space") : one[0]));
      pair.appendChild(name);
      pair.appendChild(element("dd", "", record.say("keys." + one[1])));
      rows.appendChild(pair);
    });
    details.appendChild(rows);
    return details;
  }

  function start(record) {
    var chart = record.chart, bar = document.querySelector(".chart-bar"), heard = {};
    var help = element("p", "note", record.say(L.Browser.mobile ? "chart.help_touch" : "chart.help"));
    var status = element("p", "unseen");

    function hear(event) {
      var listeners = heard[event.key.length === 1 ? event.key.toLowerCase() : event.key];
      if (!listeners || event.ctrlKey || event.metaKey || event.altKey) { return; }
      if (TYPED.test(event.target.tagName)) { return; }
      // The space bar presses a button that has the focus; that comes first.
      if (event.key === " " && event.target.closest && event.target.closest("button, summary, a")) { return; }
      listeners.forEach(function (listener) { listener(event); });
      if (event.key !== "Escape") { event.preventDefault(); }
    }

    record.keys = {
      on: function (key, listener) { (heard[key] = heard[key] || []).push(listener); }
    };
    // Short, polite, and never the whole explanation: that stands beside the buttons.
    record.tell = function (text) { status.textContent = text; };

    help.id = "chart-help";
    status.setAttribute("role", "status");
    document.getElementById("chosen").removeAttribute("aria-live");
    chart.setAttribute("aria-label", record.say("chart.name"));
    chart.setAttribute("aria-describedby", "chart-help");
    document.querySelector(".chart-part").addEventListener("keydown", hear);
    bar.appendChild(status);
    bar.appendChild(help);
    bar.appendChild(list(record));
  }

  return { start: start };
}());
