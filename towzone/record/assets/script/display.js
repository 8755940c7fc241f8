/* Day, dusk, night, or as the device is set; remembered by the page only while it is open.
   The list that a browser opens for a select has its own colours, white or blue among them, so at night it would
   blind: buttons stand for it, and the select stays behind them as the one that holds the choice. */
towzone.display = (function () {
  "use strict";

  var element = towzone.base.element;

  function start(record) {
    var select = document.getElementById("mode"), group = element("span", "modes"), buttons = [];
    var label = document.querySelector("label[for='mode']");

    function show() {
      document.documentElement.setAttribute("data-mode", select.value);
      buttons.forEach(function (one) { one.setAttribute("aria-pressed", String(one.value === select.value)); });
    }

    function choose() {
      show();
      record.emit("mode", { mode: select.value });
    }

    ["auto", "day", "dusk", "night"].forEach(function (mode) {
      var option = select.querySelector("option[value='" + mode + "']"), button;
      if (!option) {
        option = select.appendChild(element("option", "", record.say("chart.mode_" + mode)));
        option.value = mode;
      }
      button = towzone.base.button("", "mode-button", option.textContent);
      button.value = mode;
      button.addEventListener("click", function () {
        select.value = mode;
        choose();
      });
      buttons.push(group.appendChild(button));
    });
    group.setAttribute("role", "group");
    group.setAttribute("aria-label", label ? label.textContent : record.say("chart.mode"));
    if (label) { label.className = "unseen"; }
    select.classList.add("held");
    select.setAttribute("aria-hidden", "true");
    select.tabIndex = -1;
    select.parentNode.appendChild(group);
    select.addEventListener("change", choose);
    // A device that turns dark while the page follows it: a canvas must be painted again.
    window.matchMedia("(prefers-color-scheme: dark)").addListener(function () {
      record.emit("mode", { mode: select.value });
    });
    show();
  }

  return { start: start };
}());
