"""Everything a page offers, used: every control pressed, rows chosen, the chart clicked and keyed.

It knows no control by its name, so that one added later is used as well.
"""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page

__all__ = ["inventory", "look_over", "use_everything"]

_CONTROLS = """() => {
  var controls = document.querySelectorAll("button, input, select, summary");
  return [...controls].map((node, i) => {
    node.setAttribute("data-use", i);
    return {place: i, many: node.hasAttribute("data-row")};
  });
}"""
_USE = """([place, round]) => {
  var node = document.querySelector("[data-use='" + place + "']");
  if (!node || node.disabled) { return; }
  function tell(kind) { node.dispatchEvent(new Event(kind, {bubbles: true})); }
  if (node.localName === "select") {
    node.selectedIndex = (node.selectedIndex + 1) % node.options.length;
    tell("input"); tell("change");
  } else if (node.localName === "input" && node.type === "range") {
    node.value = round ? node.min : (Number(node.min) + Number(node.max)) / 2;
    tell("input"); tell("change");
  } else if (node.localName === "input" && !/checkbox|radio/.test(node.type)) {
    node.value = round ? "" : "a";
    tell("input"); tell("change");
  } else { node.click(); }
}"""
_INVENTORY = """() => {
  var found = {};
  document.querySelectorAll("*").forEach(node => {
    var names = node.getAttributeNames().filter(name => name !== "data-use");
    ["", ...names].forEach(name => { found[node.localName + (name && "@" + name)] = true; });
  });
  found["scripts: " + document.scripts.length] = true;
  found["style sheets: " + document.styleSheets.length] = true;
  return Object.keys(found).sort();
}"""
_SEEN = """() => {
  var copy = document.body.cloneNode(true);
  copy.querySelectorAll("script, style").forEach(node => node.remove());
  return [document.title, copy.textContent,
    ...[...document.querySelectorAll("[title], [aria-label], [placeholder], [value], option")].flatMap(
      node => [node.getAttribute("title"), node.getAttribute("aria-label"), node.getAttribute("value")])
  ].filter(Boolean);
}"""
_SOME = 3
"""Own choice; they all do the same."""
_CHART_KEYS = ("n", "n", "p", ".", ",", "m", "Space", "Space", "+", "-", "ArrowRight", "Enter", "Escape")


def use_everything(page: Page) -> None:
    """Use every control twice (of the rows' own only some), the chart by mouse and keys, and print."""
    page.evaluate("document.querySelectorAll('details').forEach(node => { node.open = true; })")
    controls: list[dict[str, Any]] = page.evaluate(_CONTROLS)
    of_rows = [control["place"] for control in controls if control["many"]]
    for control in controls:
        if control["place"] not in of_rows[_SOME:]:
            for turn in range(2):
                page.evaluate(_USE, [control["place"], turn])
    _use_chart(page)
    page.emulate_media(media="print")
    page.evaluate("document.body.offsetHeight")
    page.emulate_media(media="screen")


def _use_chart(page: Page) -> None:
    chart = page.locator("#chart")
    if not chart.is_visible():
        return
    chart.scroll_into_view_if_needed()
    box = chart.bounding_box()
    assert box is not None
    spots = [(box["x"] + box["width"] * x, box["y"] + box["height"] * y) for x, y in ((0.3, 0.4), (0.6, 0.6))]
    for x, y in spots:
        page.mouse.move(x, y)
        page.mouse.click(x, y)
    for key in _CHART_KEYS:
        chart.focus()
        page.keyboard.press(key)
        if key == "m":
            for x, y in spots:
                page.mouse.click(x, y)
    chart.focus()
    page.keyboard.press("Escape")
    page.evaluate("new Promise(done => setTimeout(done, 100))")


def inventory(page: Page) -> set[str]:
    """Which elements the page has, with which attributes, how many scripts: ``path``, ``path@class``, ..."""
    return set(page.evaluate(_INVENTORY))


def look_over(page: Page) -> str:
    """Return all that a person or a screen reader may be told by the page, shown or not."""
    return "\n".join(page.evaluate(_SEEN))
