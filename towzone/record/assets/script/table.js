/* Sorting and filtering the table of rows. Nothing is hidden unsaid: the count of the rows shown stands above
   the table, on paper all rows stand in their first order, and a chosen row is always shown. */
towzone.table = (function () {
  "use strict";

  var element = towzone.base.element, all = towzone.base.all;
  var FILTERS = ["result", "zone", "tow"];

  function known(text) { return text === null ? null : Number(text); }

  function rowOf(body) {
    return {
      body: body,
      number: Number(body.id.replace("row-", "")),
      status: body.getAttribute("data-status"),
      zone: body.getAttribute("data-zone"),
      name: body.querySelector(".c-zone strong").textContent,
      tow: Number(body.getAttribute("data-tow")),
      last: body.hasAttribute("data-last"),
      clearance: known(body.getAttribute("data-clearance")),
      time: known(body.getAttribute("data-time"))
    };
  }

  // What is not known stands last whichever way it is sorted; what is equal stays worst first.
  function comparing(by, down) {
    var names = new Intl.Collator(document.documentElement.lang, { numeric: true });
    return function (a, b) {
      var difference = 0;
      // Rows of corrected lines stand last whichever way it is sorted.
      if (a.last !== b.last) { return a.last ? 1 : -1; }
      if (by === "zone") {
        difference = names.compare(a.name, b.name) || Number(a.zone) - Number(b.zone);
      } else if (a[by] === null || b[by] === null) {
        if (a[by] !== b[by]) { return a[by] === null ? 1 : -1; }
      } else {
        difference = a[by] - b[by];
      }
      return (down ? -difference : difference) || a.number - b.number;
    };
  }

  function start(record) {
    var table = document.getElementById("rows"), rows = all("#rows > tbody.row").map(rowOf), say = record.say;
    var count = document.getElementById("rows-count"), reset = document.getElementById("rows-reset");
    var order = document.getElementById("rows-order"), sorted = { by: "number", down: false }, placed = "number";
    var headings = {};

    function select(name) { return document.getElementById("rows-" + name); }

    function wanted(name) { return select(name) ? select(name).value : ""; }

    function fits(row) {
      var result = wanted("result"), zone = wanted("zone"), tow = wanted("tow");
      return (result === "" || result.split(" ").indexOf(row.status) >= 0) && (zone === "" || zone === row.zone) &&
        (tow === "" || Number(tow) === row.tow);
    }

    // Moving a row takes the focus from its button: give it back.
    function place(by, down) {
      var focused = document.activeElement;
      if (placed === by + down) { return; }
      placed = by + down;
      rows.slice().sort(comparing(by, down)).forEach(function (row) { table.appendChild(row.body); });
      if (focused && focused !== document.activeElement && table.contains(focused)) {
        focused.focus({ preventScroll: true });
      }
    }

    function tell(before) {
      var shown = rows.filter(function (row) { return !row.body.hidden; });
      var first = sorted.by === "number" && !sorted.down;
      var way = say("table.order." + sorted.by + (sorted.down ? ".down" : ".up"));
      var words = say(shown.length ? "table.count" : "table.count_none", {
        shown: shown.length, all: rows.length, order: way
      });
      count.textContent = (before ? before + " " : "") + words;
      reset.hidden = shown.length === rows.length && first;
      record.emit("rows", { shown: shown.map(function (row) { return row.number; }), all: rows.length });
    }

    function filter(before) {
      rows.forEach(function (row) { row.body.hidden = !fits(row); });
      tell(before);
    }

    function sort(by, down) {
      sorted = { by: by, down: down };
      place(by, down);
      Object.keys(headings).forEach(function (name) {
        if (name === by) {
          headings[name].setAttribute("aria-sort", down ? "descending" : "ascending");
        } else {
          headings[name].removeAttribute("aria-sort");
        }
      });
      order.value = by;
      tell();
    }

    function everyRow(before) {
      FILTERS.forEach(function (name) { if (select(name)) { select(name).value = ""; } });
      filter(before);
    }

    // A heading becomes a button that says what it is; how it is sorted is said by aria-sort.
    function pressable(heading) {
      var button = element("button", "sort", heading.textContent), by = heading.getAttribute("data-sort");
      button.type = "button";
      heading.textContent = "";
      heading.appendChild(button);
      headings[by] = heading;
      button.addEventListener("click", function () { sort(by, sorted.by === by && !sorted.down); });
    }

    // Paper shows all rows as they first stood; the style sheet shows the hidden ones.
    function paper(on) {
      if (on) { place("number", false); } else { place(sorted.by, sorted.down); }
    }

    record.rows = { shown: function () { return rows.filter(fits).map(function (row) { return row.number; }); } };
    towzone.files.start(record);
    if (!count) { return; }

    all("#rows th[data-sort]").forEach(pressable);
    FILTERS.forEach(function (name) {
      if (select(name)) { select(name).addEventListener("change", function () { filter(); }); }
    });
    order.addEventListener("change", function () { sort(order.value, false); });
    reset.addEventListener("click", function () {
      sort("number", false);
      everyRow();
      select("result").focus();
    });
    record.on("row", function (detail) {
      var row = detail && detail.row ? rows.filter(function (one) { return one.number === detail.row; })[0] : null;
      if (row && row.body.hidden) { everyRow(say("table.released", { number: row.number })); }
    });
    window.addEventListener("beforeprint", function () { paper(true); });
    window.addEventListener("afterprint", function () { paper(false); });
    window.matchMedia("print").addListener(function (query) { paper(query.matches); });
    placed = "numberfalse";
    sort("number", false);
  }

  return { start: start };
}());
