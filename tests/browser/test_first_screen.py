"""The first screen: whether there is a problem and where, before anything is scrolled."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from browser_page import Opener
from gear_results import build_gear_result
from result_builders import build_result

from towzone.model.result import CheckResult, Status

SCREENS = pytest.mark.parametrize(("width", "height"), [(1280, 800), (390, 844)], ids=["desk", "phone"])


def with_status(status: Status) -> CheckResult:
    base = build_result(planned=False)
    return dataclasses.replace(base, rows=(dataclasses.replace(base.rows[0], status=status),), beyond_reach=0)


def forty_tows() -> CheckResult:
    base = build_result(planned=False)
    first, row = base.tows[0], base.rows[0]
    hour = np.timedelta64(3600, "s")
    tows = tuple(
        dataclasses.replace(
            first, number=n, shoot_utc=first.shoot_utc + n * hour, haul_utc=first.haul_utc + n * hour
        )
        for n in range(1, 41)
    )
    rows = tuple(
        dataclasses.replace(row, tow=n, status=Status.INSIDE if n in (7, 30) else Status.CLEAR)
        for n in (7, 30, *range(1, 7), *range(31, 41))
    )
    return dataclasses.replace(base, tows=tows, rows=rows)


@SCREENS
def test_answer_is_whole_and_the_chart_begins_on_the_first_screen(
    opener: Opener, width: int, height: int
) -> None:
    page = opener(build_gear_result(planned=False), width=width, height=height).page
    bottom = "(id) => document.getElementById(id).getBoundingClientRect()"

    assert page.evaluate(f"({bottom})('answer').bottom") < height * 0.75
    assert page.evaluate(f"({bottom})('chart').top") < height
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_three_answers_are_told_apart_by_word_and_shape_and_border(opener: Opener) -> None:
    looks = []
    for status in (Status.INSIDE, Status.UNDETERMINED, Status.CLEAR):
        page = opener(with_status(status)).page
        look = page.evaluate(
            """() => {
            const answer = document.getElementById("answer"), style = getComputedStyle(answer);
            return [answer.querySelector(".verdict span").textContent,
              answer.querySelector(".verdict-mark").firstElementChild.tagName,
              style.borderTopStyle + style.borderTopWidth];
            }"""
        )
        looks.append(look)
    words, shapes, borders = zip(*looks, strict=True)

    assert words == ("Problem found", "Not decided", "No problem found")
    assert len(set(shapes)) == len(set(borders)) == 3


def test_index_of_forty_tows_is_one_line_until_it_is_opened_and_then_a_plain_list(opener: Opener) -> None:
    page = opener(forty_tows(), width=390, height=844).page
    nav = page.locator("#trip-index")

    assert "40 tows. Problems: tow 7, tow 30." in nav.inner_text()
    assert nav.bounding_box()["height"] < 80
    nav.locator("summary").click()
    buttons = nav.locator("button.show-tow")
    assert buttons.count() == 40
    assert buttons.first.get_attribute("data-tow") == "1"
    assert {b.get_attribute("data-track") for b in buttons.all()} == {"0"}
    tops = [round(button.bounding_box()["y"]) for button in buttons.all()]
    assert tops == sorted(set(tops))
    scrolls = "(n) => n.scrollHeight - n.clientHeight"
    assert page.eval_on_selector("#trip-index .scrolls", scrolls) == 0
    buttons.last.scroll_into_view_if_needed()
    assert buttons.last.is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("width", [390, 1280])
def test_long_sections_are_folded_where_the_screen_is_narrow(opener: Opener, width: int) -> None:
    page = opener(build_gear_result(), width=width).page

    opened = page.locator("#assumptions > details[open], .legend > details[open]").count()
    assert opened == (0 if width == 390 else 2)
    assert page.locator("#gear > details[open]").count() == 0
    page.locator("#gear > details > summary").click()
    assert "No sea trial was found" in page.locator("#gear").inner_text()


def test_all_evidence_can_be_read_without_scripts(opener: Opener) -> None:
    page = opener(build_gear_result(), scripts=False).page

    heights = page.evaluate(
        """() => [...document.querySelectorAll(".evidence > details")].map((section) => {
          if (!section.open) { section.querySelector("summary").click(); }
          return section.open ? section.scrollHeight - section.querySelector("summary").offsetHeight : 0;
        })"""
    )
    assert len(heights) >= 13
    assert min(heights) > 10
