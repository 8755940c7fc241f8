"""Whatever text, place or time a file holds, the record shows it as it is and does nothing else with it."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest
from browser_page import Opened, Opener
from browser_use import inventory, look_over, use_everything
from cli_runner import call
from hostile_names import (
    HOSTILE,
    IN_JSON,
    csv_of_vessels,
    file_name,
    gpx_of_hauls,
    gpx_of_routes,
    haul_log,
    places,
    profile,
    zones_at,
)
from playwright.sync_api import Browser

from towzone.record.text import clean

TEXTS = {**HOSTILE, **IN_JSON}
CHUNK = 28
"""Hauls are logged one a day, so that no more than a month of them fit into one log."""
WORDS = 24
"""Characters of a text by which it is looked for; what shows less of it says nothing."""
IN_XML = [text for name, text in HOSTILE.items() if name not in ("controls", "not-a-character")]
"""The others have characters outside XML 1.0, section 2.2: a document with them is refused as damaged."""


def written(path: Path, text: str) -> Path:
    path.write_bytes(text.encode("utf-8"))
    return path


def record_of(folder: Path, track: Path, zones: Path, *more: object) -> Path:
    record = folder / "record.html"
    ran = call("check", track, "--zones", zones, "--reach", "1nmi", "--record", record, *more, cwd=folder)
    assert ran.code in (1, 4), ran.err
    return record


def of_vessels(folder: Path, texts: Sequence[str]) -> Path:
    """A record of zones that say the texts of themselves, and of vessels called by those CSV can carry."""
    where = places(len(texts))
    zones = written(folder / "zones.geojson", zones_at(where, texts))
    names = [f"JSON only {i}" if text in IN_JSON.values() else text for i, text in enumerate(texts)]
    return record_of(
        folder, written(folder / "v.csv", csv_of_vessels(where, names)), zones, "--towing", "all"
    )


def of_routes(folder: Path, texts: Sequence[str]) -> Path:
    """A record of planned routes called by the texts."""
    where = places(len(texts))
    zones = written(folder / "zones.geojson", zones_at(where, texts))
    return record_of(folder, written(folder / "routes.gpx", gpx_of_routes(where, texts)), zones)


def of_hauls(folder: Path, texts: Sequence[str]) -> Path:
    """A record of hauls called by the texts; the vessel and the files by all of them together.

    The gear is followed where there are few: it takes long.
    """
    where, together = places(len(texts)), "".join(text[:WORDS] for text in texts)
    zones = written(folder / file_name("z" + together, ".geojson"), zones_at(where, texts))
    track = written(folder / file_name("t" + together, ".gpx"), gpx_of_hauls(where))
    log = written(folder / file_name("h" + together, ".csv"), haul_log(texts))
    vessel = written(folder / file_name("v" + together, ".toml"), profile(together, gear=len(texts) < 4))
    return record_of(folder, track, zones, "--towing", log, "--vessel", vessel, "--gap", "48h")


ALL = tuple(HOSTILE.values())
CASES: dict[str, tuple[Callable[[Path, Sequence[str]], Path], tuple[str, ...]]] = {
    "zones-and-vessels": (of_vessels, tuple(TEXTS.values())),
    "routes": (of_routes, tuple(IN_XML)),
    "gear": (of_hauls, (HOSTILE["img"], HOSTILE["jinja-value"], HOSTILE["script-closed"])),
    **{f"hauls-and-files-{i}": (of_hauls, ALL[i : i + CHUNK]) for i in range(0, len(ALL), CHUNK)},
}
LONG_WORDS = "plain " * 1700
HARMLESS = tuple(f"{LONG_WORDS if i % 8 == 0 else 'plain'} {i}" for i in range(len(TEXTS)))


@dataclass(frozen=True)
class Case:
    """One record of hostile texts, opened, and all that was to be read in it before it was used."""

    opened: Opened
    texts: tuple[str, ...]
    read: str
    elements: set[str]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("hostile")


@pytest.fixture(scope="module")
def plain_elements(browser: Browser, folder: Path) -> set[str]:
    """Elements and attributes of records of harmless texts, before and after everything was used."""
    found: set[str] = set()
    opener = Opener(browser, folder)
    for make, texts in ((of_vessels, HARMLESS[:20]), (of_routes, HARMLESS[:8]), (of_hauls, HARMLESS[:3])):
        place = folder / f"plain-{make.__name__}"
        place.mkdir()
        page = opener.file(make(place, texts)).page
        found |= inventory(page)
        use_everything(page)
        found |= inventory(page)
    opener.close()
    return found


@pytest.fixture(scope="module", params=CASES)
def case(request: pytest.FixtureRequest, browser: Browser, folder: Path) -> Iterator[Case]:
    make, texts = CASES[request.param]
    place = folder / request.param
    place.mkdir()
    opener = Opener(browser, place)
    opened = opener.file(make(place, texts))
    yield Case(opened=opened, texts=texts, read=look_over(opened.page), elements=inventory(opened.page))
    opener.close()


def shown(text: str) -> str:
    """The beginning of a text as the page is to show it: blanks around it are not part of a name."""
    return clean(text.strip()[:WORDS])


def test_each_text_is_there_character_by_character(case: Case) -> None:
    missing = [text[:WORDS] for text in case.texts if shown(text) not in case.read]

    assert missing == []


def test_nothing_that_is_to_be_read_is_unseen_or_turns_the_reading_direction(case: Case) -> None:
    # Joiners belong to letters and pictures; everything else of these kinds hides or turns something.
    kinds = {"Cc", "Cf", "Cs", "Zl", "Zp"}
    ours = {"\n", "\u200c", "\u200d"}
    unseen = {c for c in case.read if unicodedata.category(c) in kinds} - ours

    assert unseen == set()


def test_texts_make_no_element_that_harmless_ones_do_not_make(case: Case, plain_elements: set[str]) -> None:
    assert case.elements - plain_elements == set()


def test_every_row_can_be_chosen_and_is_told_in_full(case: Case) -> None:
    page = case.opened.page
    rows = case.opened.island("chart-data")["rows"]
    told = page.evaluate(
        """() => [...document.querySelectorAll("#rows button.show")].map(button => {
            button.click(); return document.getElementById("chosen").textContent; })"""
    )

    assert len(told) == len(rows) > 0
    assert all(row["text"][:200] in words for row, words in zip(rows, told, strict=True))


def test_using_everything_runs_asks_and_says_nothing(case: Case, plain_elements: set[str]) -> None:
    page = case.opened.page
    use_everything(page)

    assert page.evaluate("window.taken") is None
    assert page.locator("#taken").count() == 0
    assert inventory(page) - plain_elements == set()
    assert case.opened.undisturbed(), case.opened.disturbances()
    assert page.evaluate("document.documentElement.classList.contains('js')")


def test_page_is_no_wider_than_a_phone(case: Case) -> None:
    page = case.opened.page
    page.set_viewport_size({"width": 360, "height": 740})

    assert page.evaluate("document.documentElement.scrollWidth") <= 360
