"""The record's colours by day, at dusk and at night: contrast, colour blindness, and red alone at night.

Everything is computed from the style sheets themselves.
"""

from __future__ import annotations

import functools
import importlib.resources
import itertools
import re

import numpy as np
import pytest

TEXT, GRAPHICS = 4.5, 3.0
"""Least contrast. Published: WCAG 2.2, success criteria 1.4.3 and 1.4.11, level AA."""

SEEN_APART = 20.0
"""Distance in CIE 1976 L*a*b* from which two thin lines are told apart by colour. Own choice: about ten times
what is just noticeable on large patches."""

VISION = {
    "normal": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
"""On linear sRGB, severity 1.0. Published: Machado, Oliveira and Fernandes (2009), A physiologically-based
model for simulation of color vision deficiency, IEEE TVCG 15(6), doi:10.1109/TVCG.2009.113."""

TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""Linear sRGB to XYZ, white D65. Published: IEC 61966-2-1."""

MODES = ("day", "dusk", "night")
PAPER = ("page", "panel", "band", "chosen")
KINDS = ("closed_area", "safety_zone", "cable", "pipeline", "obstruction", "other")
STATUSES = ("finding", "undecided", "clear", "other-status")
LINES = ("track", "setting", "steaming", "doubt", "gear", "finding", "undecided", "soft", "ink", *KINDS)
FAINT = {"rule", "grid", "gear-fill", "halo", "hatch"}
"""Not needed to understand anything: rules between rows, graticule (its words say what it is), the fill
between the lines of the gear, edges around words; the hatch only repeats what the edge of a zone says."""

BESIDE = {
    "towing": "track a-towing t-completed",
    "planned": "track a-planned t-planned",
    "corrected": "track a-planned t-planned corrected",
    "before a planned tow": "track a-shooting t-planned",
    "unknown": "track a-unknown t-completed",
    "shooting": "track a-shooting t-completed",
    "hauling": "track a-hauling t-completed",
    "not towing": "track a-not_towing t-completed",
    "gap": "gap",
    "inside": "highlight inside",
    "close": "highlight close",
    "closest": "closest s-inside",
    "ellipse": "gap-ellipse",
    "corridor": "gear corridor",
    "likely": "gear likely",
    "corridor of a corrected line": "gear corridor corrected",
    "likely of a corrected line": "gear likely corrected",
    "door": "gear g-door",
    "door of a corrected line": "gear g-door corrected",
    "clump": "gear g-clump",
    "net": "gear g-net",
    "cable": "zone k-cable line",
    "pipeline": "zone k-pipeline line",
    "closed area": "zone k-closed_area area",
    "safety zone": "zone k-safety_zone area",
    "obstruction": "zone k-obstruction area",
    "other zone": "zone k-other area",
    "only inside": "zone k-closed_area area outside",
    "margin of a cable": "margin m-cable",
    "margin of an area": "margin m-closed_area",
}
"""What can lie beside each other on a chart, by class."""


@functools.cache
def sheet(name: str) -> str:
    file = importlib.resources.files("towzone.record").joinpath("assets", "style", name)
    return re.sub(r"/\*.*?\*/", "", file.read_text(encoding="utf-8"), flags=re.DOTALL)


@functools.cache
def rules(text: str) -> list[tuple[str, dict[str, str]]]:
    found = []
    for selectors, body in re.findall(r"([^{}]+)\{([^{}]*)\}", text):
        pairs = (line.split(":", 1) for line in body.split(";") if ":" in line)
        found.append((selectors.strip(), {name.strip(): value.strip() for name, value in pairs}))
    return found


def palettes() -> dict[str, dict[str, str]]:
    names = {":root": "day", '"dusk"': "dusk", '"night"': "night", '"auto"': "auto"}
    found = {}
    for selector, body in rules(sheet("palette.css")):
        name = next(name for part, name in names.items() if part in selector)
        found[name] = {key.removeprefix("--"): value for key, value in body.items() if key.startswith("--")}
    return found


PALETTES = palettes()


def linear(colour: str) -> np.ndarray:
    assert re.fullmatch("#[0-9a-f]{6}", colour), colour
    values = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """By the definition of WCAG 2.2."""
    light, dark = sorted((float(TO_XYZ[1] @ linear(colour)) for colour in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@functools.cache
def lab(colour: str, vision: str) -> np.ndarray:
    xyz = (
        TO_XYZ
        @ np.clip(np.array(VISION[vision]) @ linear(colour), 0.0, 1.0)
        / np.array([0.95047, 1.0, 1.08883])
    )
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@functools.cache
def look(classes: str) -> dict[str, str]:
    """What the style sheet of the chart gives a shape of these classes: more classes, or later, wins."""
    own = set(classes.split())
    won: dict[str, tuple[int, str]] = {}
    for selectors, body in rules(sheet("drawn.css")):
        for selector in selectors.split(","):
            parts = selector.strip()
            if re.fullmatch(r"(\.[\w-]+)+", parts) and set(parts[1:].split(".")) <= own:
                for name, value in body.items():
                    if parts.count(".") >= won.get(name, (0, ""))[0]:
                        won[name] = (parts.count("."), value)
    return {name: value for name, (_, value) in won.items()}


def pattern(classes: str) -> tuple[str, float, str]:
    """Dash, weight and fill: all that is left of a line without its colour."""
    style = look(classes)
    fill = style.get("fill", "none")
    stroke = style.get("stroke", "none")
    weight = 0.0 if stroke == "none" else float(style.get("stroke-width", "1"))
    filled = fill if fill == "none" or "url" in fill else f"filled {style.get('fill-opacity', '1')}"
    return ("none" if stroke == "none" else style.get("stroke-dasharray", "none"), weight, filled)


def colour(classes: str, mode: str) -> str:
    style = look(classes)
    name = style["stroke"] if style.get("stroke", "none") != "none" else style["fill"]
    return PALETTES[mode][name.removeprefix("var(--").removesuffix(")")]


def test_every_display_has_every_colour_and_a_dark_device_gets_the_dusk() -> None:
    assert set(PALETTES) == {"day", "dusk", "night", "auto"}
    for mode in MODES:
        assert set(PALETTES[mode]) == set(PALETTES["day"])
    assert PALETTES["auto"] == PALETTES["dusk"]


def test_every_colour_is_either_checked_here_or_named_as_faint() -> None:
    checked = {
        *PAPER,
        *KINDS,
        *STATUSES,
        *LINES,
        "sea",
        "land",
        "shore",
        "ink",
        "grid-ink",
        "pin-ink",
        "focus",
    }

    assert checked | FAINT == set(PALETTES["day"])


@pytest.mark.parametrize("mode", MODES)
def test_words_can_be_read_on_everything_they_stand_on(mode: str) -> None:
    of = PALETTES[mode]
    pairs = [(word, paper) for word in ("ink", "soft", *STATUSES) for paper in PAPER]
    pairs += [
        (word, ground) for word in ("ink", "soft", "track", "grid-ink", *KINDS) for ground in ("sea", "land")
    ]
    pairs += [("pin-ink", status) for status in STATUSES]
    pairs += [("page", "ink"), ("clear", "halo"), ("other-status", "halo")]
    faint = {pair: contrast(of[pair[0]], of[pair[1]]) for pair in pairs}

    assert {pair: ratio for pair, ratio in faint.items() if ratio < TEXT} == {}


@pytest.mark.parametrize("mode", MODES)
def test_lines_and_marks_stand_out_from_sea_and_land(mode: str) -> None:
    of = PALETTES[mode]
    pairs = [(line, ground) for line in (*LINES, *STATUSES) for ground in ("sea", "land")]
    pairs += [("shore", "sea"), *(("focus", paper) for paper in (*PAPER, "sea"))]
    faint = {pair: contrast(of[pair[0]], of[pair[1]]) for pair in pairs}

    assert {pair: ratio for pair, ratio in faint.items() if ratio < GRAPHICS} == {}


def test_night_is_red_alone_on_black() -> None:
    colours = {name: value for name, value in PALETTES["night"].items() if name != "hatch"}

    assert all(re.fullmatch("#[0-9a-f]{2}0000", value) for value in colours.values())
    assert colours["page"] == colours["sea"] == "#000000"
    named = re.findall("#[0-9a-fA-F]{3,8}", sheet("night.css"))
    assert named
    assert all(re.fullmatch("#[0-9a-f]{2}0000", value) for value in named)


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("mode", ["day", "dusk"])
def test_finding_track_zone_and_gear_are_told_apart_in_every_vision(mode: str, vision: str) -> None:
    """By colour, or where colours come near each other by dash, weight or fill."""
    alike = []
    for one, other in itertools.combinations(BESIDE, 2):
        a, b = BESIDE[one], BESIDE[other]
        apart = np.linalg.norm(lab(colour(a, mode), vision) - lab(colour(b, mode), vision))
        if apart < SEEN_APART and pattern(a) == pattern(b):
            alike.append((one, other))

    # Two margins look alike on purpose where their zones' colours do: each lies around its own zone.
    assert [pair for pair in alike if not all("margin" in one for one in pair)] == []


def test_without_any_colour_every_line_still_has_its_own_look() -> None:
    """As at night, where all is red."""
    looks = {one: pattern(classes) for one, classes in BESIDE.items() if one != "margin of an area"}
    alike = [pair for pair in itertools.combinations(looks, 2) if looks[pair[0]] == looks[pair[1]]]

    assert alike == []


def test_zone_not_in_force_and_an_open_gap_look_different() -> None:
    for kind in KINDS:
        for shape in ("area", "line"):
            assert pattern(f"zone k-{kind} {shape} off") != pattern(f"zone k-{kind} {shape}")
    assert pattern("gap open") != pattern("gap")
    assert pattern("gap-ellipse open") != pattern("gap-ellipse")


def test_colours_of_screens_do_not_reach_the_paper() -> None:
    text = sheet("palette.css")

    for mode in ("dusk", "night", "auto"):
        before = text[: text.index(f'data-mode="{mode}"')]
        medium = re.findall(r"@media ([^{]*)\{", before)[-1]
        assert medium.startswith("screen")
