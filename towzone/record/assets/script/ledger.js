/* Long tables: of all rows, which the page carries as data, one page stands in the table at a time. What is hidden
   is said: how many of how many are shown, in which order. Paper shows the first rows as they first stood. */
towzone.ledger = (function () {
  "use strict";

  var element = towzone.base.element, shape = towzone.base.shape;
  var NARROW = 20; // rows at a time where a row is a card; own choice

  function two(cell) { return typeof cell === "string" ? [cell, ""] : cell; }

  // The same elements as towzone/record/overview/ledger.py writes.
  function cellOf(cell, column, first, entry, heads, shapes) {
    var node = element(first ? "th" : "td", "l-" + column[0]), texts = two(cell), top = texts[0], inner, svg, path, below;
    if (first) { node.setAttribute("scope", "row"); } else { node.setAttribute("data-head", heads[column[0]]); }
    if (column[1] === "status") {
      inner = element("span", "status s-" + entry[0]);
      svg = shape("svg", "shape");
      svg.setAttribute("viewBox", "0 0 14 14");
      svg.setAttribute("aria-hidden", "true");
      path = shape("path");
      path.setAttribute("d", shapes[entry[0]]);
      svg.appendChild(path);
      inner.appendChild(svg);
      inner.appendChild(document.createTextNode(top));
    } else if (column[1] === "code") {
      inner = element("code", "", top);
    } else if (column[1] === "figure") {
      inner = element("span", "nb", top);
    } else if (first) {
      inner = element("strong");
      inner.appendChild(element("bdi", "", top));
    } else { inner = element("bdi", "", top); }
    if (top || texts[1]) { node.appendChild(inner); }
    if (texts[1]) {
      node.appendChild(document.createTextNode(" "));
      below = element("span", "second");
      below.appendChild(element("bdi", "", texts[1]));
      node.appendChild(below);
    }
    return node;
  }

  function belowOf(entry, ledger, say) {
    var row = element("tr", "below"), cell = element("td"), note = entry[3], link = entry[4], command = entry[5], node, inner;
    cell.colSpan = ledger.columns.length;
    if (note) {
      node = element("p", "entry-note");
      node.appendChild(element("bdi", "", note));
      cell.appendChild(node);
    }
    if (link) {
      node = element("p");
      inner = element("a", "", say("overview.script.record"));
      inner.setAttribute("href", link);
      node.appendChild(inner);
      cell.appendChild(node);
    }
    if (command) {
      node = element("details", "make");
      node.appendChild(element("summary", "", say("overview.script.command")));
      node.appendChild(element("code", "", [ledger.head, command[0], ledger.tail, command[1]].join(" ")));
      cell.appendChild(node);
    }
    row.appendChild(cell);
    return cell.firstChild ? row : null;
  }

  function bodyOf(entry, ledger, heads, shapes, say) {
    var body = element("tbody", "entry s-" + entry[0]), row = element("tr"), below = belowOf(entry, ledger, say);
    ledger.columns.forEach(function (column, i) {
      row.appendChild(cellOf(entry[1][i], column, i === 0, entry, heads, shapes));
    });
    body.appendChild(row);
    if (below) { body.appendChild(below); }
    return body;
  }

  // All that a row says, for looking for a piece of it.
  function textOf(entry) { return entry[1].map(function (cell) { return two(cell).join(" "); }).concat(entry[3] || "").join(" ").toLowerCase(); }

  function start(record, ledger) {
    var say = record.say, name = ledger.name, table = document.getElementById(name + "-table");
    var count = document.getElementById(name + "-count"), heads = {}, buttons = {}, texts = null, keyOf = {};
    var narrow = window.matchMedia("(max-width: 820px)").matches;
    var rows = narrow ? Math.min(NARROW, ledger.page) : ledger.page; // at a time
    var sorted = { by: "", down: false }, chosen = [], page = 0, printing = false;

    function get(what) { return document.getElementById(name + "-" + what); }

    function value(what) { return get(what) ? get(what).value : ""; }

    if (!table) { return; }
    Array.prototype.slice.call(table.tHead.rows[0].cells).forEach(function (cell, i) {
      heads[ledger.columns[i][0]] = cell.textContent;
    });
    ledger.columns.filter(function (column) { return column[2] === "key"; }).forEach(function (column, i) {
      keyOf[column[0]] = i;
    });

    function fill(entries) {
      while (table.tBodies.length) { table.removeChild(table.tBodies[0]); }
      entries.forEach(function (entry) { table.appendChild(bodyOf(entry, ledger, heads, record.shapes, say)); });
    }

    // What is not known stands last whichever way it is sorted; what is equal stays as it first stood.
    function comparing(by, down) {
      var names = new Intl.Collator(document.documentElement.lang, { numeric: true }), place = -1;
      ledger.columns.forEach(function (column, i) { if (column[0] === by) { place = i; } });
      return function (a, b) {
        var one = ledger.entries[a], other = ledger.entries[b], x, y, difference;
        if (by in keyOf) {
          x = (one[2] || [])[keyOf[by]];
          y = (other[2] || [])[keyOf[by]];
          if (typeof x !== "number" || typeof y !== "number") {
            return (typeof y === "number") - (typeof x === "number") || a - b;
          }
          difference = x - y;
        } else {
          x = two(one[1][place])[0];
          y = two(other[1][place])[0];
          if (!x || !y) { return !x - !y || a - b; }
          difference = names.compare(x, y);
        }
        return (down ? -difference : difference) || a - b;
      };
    }

    function fits(i) {
      var entry = ledger.entries[i], look = value("look"), group = value("group"), find = value("find").trim().toLowerCase();
      if (find && texts === null) { texts = ledger.entries.map(textOf); }
      return (look === "" || look === entry[0]) && (group === "" || (entry[6] || []).indexOf(Number(group)) >= 0) &&
        (find === "" || texts[i].indexOf(find) >= 0);
    }

    function pages() { return Math.max(1, Math.ceil(chosen.length / rows)); }

    function show() {
      var from = page * rows, to = Math.min(from + rows, chosen.length);
      if (printing) { return; }
      fill(chosen.slice(from, to).map(function (i) { return ledger.entries[i]; }));
      if (!count) { return; }
      get("page").textContent = chosen.length ? say("overview.script.page", {
        from: from + 1, to: to, shown: chosen.length, page: page + 1, pages: pages()
      }) : say("overview.script.page_none");
      get("first").disabled = get("before").disabled = page === 0;
      get("last").disabled = get("after").disabled = page >= pages() - 1;
    }

    function orderWords() {
      if (!sorted.by) { return say("overview.script.first_order"); }
      return say("overview.script." + (sorted.down ? "down" : "up"), { column: heads[sorted.by] });
    }

    function choose() {
      chosen = ledger.entries.map(function (entry, i) { return i; }).filter(fits);
      if (sorted.by) { chosen.sort(comparing(sorted.by, sorted.down)); }
      page = 0;
      if (count) {
        count.textContent = say(chosen.length ? "overview.script.count" : "overview.script.count_none", {
          shown: chosen.length, all: ledger.entries.length, order: orderWords()
        });
        get("reset").hidden = chosen.length === ledger.entries.length && !sorted.by;
      }
      show();
    }

    function sort(by, down) {
      sorted = { by: by, down: down };
      Object.keys(buttons).forEach(function (column) {
        if (column === by) {
          buttons[column].setAttribute("aria-sort", down ? "descending" : "ascending");
        } else { buttons[column].removeAttribute("aria-sort"); }
      });
      get("order").value = by;
      choose();
    }

    function pressable(heading, by) {
      var button = element("button", "sort", heading.textContent);
      button.type = "button";
      heading.textContent = "";
      heading.appendChild(button);
      buttons[by] = heading;
      button.addEventListener("click", function () { sort(by, sorted.by === by && !sorted.down); });
    }

    function turn(way) {
      return function () {
        page = { first: 0, before: page - 1, after: page + 1, last: pages() - 1 }[way];
        page = Math.min(Math.max(page, 0), pages() - 1);
        show();
      };
    }

    function paper(on) {
      if (on === printing) { return; }
      printing = on;
      if (on) { fill(ledger.entries.slice(0, ledger.printed)); } else { show(); }
    }

    if (count) {
      ledger.columns.forEach(function (column, i) {
        if (column[2]) { pressable(table.tHead.rows[0].cells[i], column[0]); }
      });
      ["look", "group"].forEach(function (what) { if (get(what)) { get(what).addEventListener("change", choose); } });
      if (get("find")) { get("find").addEventListener("input", choose); }
      get("order").addEventListener("change", function () { sort(get("order").value, false); });
      get("reset").addEventListener("click", function () {
        ["look", "group", "find"].forEach(function (what) { if (get(what)) { get(what).value = ""; } });
        sort("", false);
        get("order").focus();
      });
      ["first", "before", "after", "last"].forEach(function (way) { get(way).addEventListener("click", turn(way)); });
    }
    window.addEventListener("beforeprint", function () { paper(true); });
    window.addEventListener("afterprint", function () { paper(false); });
    window.matchMedia("print").addListener(function (query) { paper(query.matches); });
    choose();
  }

  return { start: start };
}());
