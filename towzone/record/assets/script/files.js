/* Copying and saving the rows and the whole result. What is given away is, character for character, what the
   program would have written with --format csv and --format json; nothing is sent anywhere. */
towzone.files = (function () {
  "use strict";

  var element = towzone.base.element;
  var KEPT_MS = 60000; // how long a file offered for saving is kept for the browser to fetch; own choice

  // The page carries the result with five characters written as JSON escapes, so that they are not markup
  // (escape_json in towzone/record/island.py); the program itself never writes those as escapes. Read from the
  // left, a backslash belongs to the character after it: \\u003c in the result is a backslash and "u003c".
  function unescaped(json) {
    return json.replace(/\\(?:u(003c|003e|0026|2028|2029)|[\s\S])/g, function (found, code) {
      return code ? String.fromCharCode(parseInt(code, 16)) : found;
    });
  }

  // The lines of CSV, each with its end; an end within quotes is part of its cell.
  function linesOf(csv) {
    var lines = [], begin = 0, quoted = false, i;
    for (i = 0; i < csv.length; i += 1) {
      if (csv.charAt(i) === "\"") { quoted = !quoted; }
      if (csv.charAt(i) === "\n" && !quoted) {
        lines.push(csv.slice(begin, i + 1));
        begin = i + 1;
      }
    }
    return lines;
  }

  function save(name, type, text) {
    var link = element("a"), address = URL.createObjectURL(new Blob([text], { type: type }));
    link.href = address;
    link.download = name;
    document.body.appendChild(link);
    link.click();
    document.body.removeChild(link);
    window.setTimeout(function () { URL.revokeObjectURL(address); }, KEPT_MS);
  }

  // The way of old: select a text, tell the browser to copy, and give it the exact text, which a text field
  // would change (it knows one kind of line end only).
  function copiedBySelection(area, text) {
    var done = false;
    function give(event) {
      event.clipboardData.setData("text/plain", text);
      event.preventDefault();
      done = true;
    }
    area.parentNode.hidden = false;
    area.value = text;
    area.focus();
    area.select();
    document.addEventListener("copy", give);
    try {
      done = document.execCommand("copy") && done;
    } finally {
      document.removeEventListener("copy", give);
    }
    return done;
  }

  function copy(area, text, said) {
    function ofOld() {
      var focused = document.activeElement, done = copiedBySelection(area, text);
      if (done) {
        area.parentNode.hidden = true;
        area.value = "";
        if (focused) { focused.focus(); }
      }
      said(done);
    }
    area.parentNode.hidden = true;
    if (navigator.clipboard && navigator.clipboard.writeText) {
      navigator.clipboard.writeText(text).then(function () { said(true); }, ofOld);
    } else {
      ofOld();
    }
  }

  function start(record) {
    var say = record.say, csv = record.data.csv || "", said = document.getElementById("file-said");
    var copyCsv = document.getElementById("copy-csv"), saveCsv = document.getElementById("save-csv");
    var area = document.getElementById("by-hand-text"), disclosure = document.getElementById("show-json");
    var shown = record.rows.shown(), count = shown.length, lines = linesOf(csv);

    function json() { return unescaped(document.getElementById("result").textContent); }

    function part() { return count < lines.length - 1; }

    function rowsText() {
      if (!part()) { return csv; }
      return lines[0] + shown.slice().sort(function (a, b) { return a - b; }).map(function (number) {
        return lines[number];
      }).join("");
    }

    function words(entry, extra) {
      var values = extra || {};
      values.shown = count;
      values.all = lines.length - 1;
      return say("table.file." + entry + (part() ? "_shown" : "_all"), values);
    }

    function label() {
      copyCsv.textContent = words("copy");
      saveCsv.textContent = words("save");
    }

    copyCsv.hidden = saveCsv.hidden = csv === "";
    label();
    record.on("rows", function (detail) {
      shown = detail.shown;
      count = shown.length;
      said.textContent = "";
      label();
    });
    copyCsv.addEventListener("click", function () {
      var done = words("copied");
      copy(area, rowsText(), function (copied) { said.textContent = copied ? done : say("table.file.by_hand"); });
    });
    saveCsv.addEventListener("click", function () {
      var name = words("name");
      save(name, "text/csv;charset=utf-8", rowsText());
      said.textContent = words("saved", { file: name });
    });
    document.getElementById("save-json").addEventListener("click", function () {
      save(say("table.file.name_json"), "application/json", json());
      said.textContent = say("table.file.saved_json", { file: say("table.file.name_json") });
    });
    disclosure.addEventListener("toggle", function () {
      document.getElementById("json-text").textContent = disclosure.open ? json() : "";
    });
  }

  return { start: start, unescaped: unescaped, linesOf: linesOf };
}());
