/* Puts the parts of an overview together. */
function towzoneOverview() {
  "use strict";

  var root = document.documentElement, record, ledgers;

  // If anything fails, the page is as it is without a script: the first rows of each table.
  window.addEventListener("error", function () { root.classList.remove("js"); });
  root.classList.add("js");

  function island(name) { return JSON.parse(document.getElementById(name).textContent); }

  record = { say: towzone.base.speaker(island("words")), shapes: island("shapes") };
  towzone.base.bus(record);
  towzone.display.start(record);
  towzone.folds.start(record);
  ledgers = island("ledgers");
  ledgers.forEach(function (ledger) { towzone.ledger.start(record, ledger); });
  record.ledgers = ledgers;
  towzone.record = record;
  root.setAttribute("data-ready", "true");
  if (window.performance && window.performance.mark) { window.performance.mark("towzone-ready"); }
}
