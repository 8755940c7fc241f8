"""The record as a file: whole, safe, repeatable, and saying what it must say."""

from __future__ import annotations

import base64
import dataclasses
import functools
import hashlib
import json
import os
import re
import subprocess
import sys
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from gear_results import build_gear_result
from result_builders import NAMES, build_result, result_json

from towzone.model.gear import Figure
from towzone.model.result import (
    CheckResult,
    Disagreement,
    DisagreementKind,
    Doubt,
    Gap,
    MoveOn,
    Remark,
    Status,
    ZoneReach,
)
from towzone.model.rules import Rules
from towzone.model.track import LeftOut
from towzone.record.drawn import coast as coast_module
from towzone.record.drawn import paths as paths_module
from towzone.record.leaflet import load_leaflet
from towzone.record.page import render_record
from towzone.record.sections.summary import outcome_sentence
from towzone.record.text import short
from towzone.units import format_position

HOSTILE = (
    "<script>alert(1)</script>",
    "</script><script>alert(2)</script>",
    "<img src=x onerror=alert(3)>",
    "</script ><!--<script>",
    "{{7*7}}",
    "{% x",
    "{# x",
    "`",
    "${1}",
    "'\"><svg onload=alert(4)>",
    "-->",
    "a\u202eb",
    "\ud800 lone",
    "x" * 10_000,
)


class Parsed(HTMLParser):
    """Elements with attributes, text outside scripts, and the contents of scripts."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.scripts: list[tuple[dict[str, str | None], str]] = []
        self.comments: list[str] = []
        self._inside = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag in ("script", "style"):
            self._inside = tag
            if tag == "script":
                self.scripts.append((dict(attrs), ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == self._inside:
            self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "script":
            attributes, text = self.scripts[-1]
            self.scripts[-1] = (attributes, text + data)
        elif not self._inside:
            self.text.append(data)

    def handle_comment(self, data: str) -> None:
        self.comments.append(data)

    def island(self, element_id: str) -> str:
        (text,) = [text for attributes, text in self.scripts if attributes.get("id") == element_id]
        return text

    @property
    def runnable(self) -> list[str]:
        return [text for attributes, text in self.scripts if attributes.get("type") != "application/json"]

    @property
    def words(self) -> str:
        return "".join(self.text)


@pytest.fixture(scope="module")
def page() -> str:
    result = build_result()
    return render_record(result, result_json(result), "")


@pytest.fixture(scope="module")
def parsed(page: str) -> Parsed:
    return Parsed(page)


NEVER = np.datetime64("NaT", "us")


def _left_out(text: str) -> LeftOut:
    return LeftOut(
        reason="void",
        file=text,
        line=np.array([7], dtype=np.uint32),
        time_utc=np.array([NEVER]),
        lon_deg=np.array([np.nan]),
        lat_deg=np.array([np.nan]),
    )


def _with_reach(gap: Gap, text: str) -> Gap:
    reach = ZoneReach(zone_id=text, least_speed_kn=1.0, longest_inside_s=60.0, tow_fits=False)
    return dataclasses.replace(gap, could_reach=(reach,))


def _disagreement(text: str) -> Disagreement:
    return Disagreement(
        kind=DisagreementKind.UNLOGGED,
        haul_id=text,
        logged_shoot_utc=NEVER,
        logged_haul_utc=NEVER,
        track_shoot_utc=NEVER,
        track_haul_utc=NEVER,
        explain=text,
    )


def _move(text: str) -> MoveOn:
    return MoveOn(
        track_id=text,
        from_tow=1,
        tow=2,
        status=Status.CLEAR,
        reason="",
        distance_m=1.0,
        required_m=1.0,
        uncertainty_m=1.0,
        shoot_utc=NEVER,
        lon_deg=0.0,
        lat_deg=0.0,
        nearest_utc=NEVER,
        nearest_lon_deg=0.0,
        nearest_lat_deg=0.0,
        explain=text,
    )


def hostile_result(text: str) -> CheckResult:
    """Return a result with one text in every place that text from outside can reach."""
    base = build_result(names=(text,) * 5, source=text)
    tracks = tuple(
        dataclasses.replace(
            track,
            track_id=f"{text}{i}",
            source=text,
            fixes_read=track.fixes_read + 1,
            left_out=(_left_out(text),),
        )
        for i, track in enumerate(base.tracks)
    )
    ids = dict(
        zip([track.track_id for track in base.tracks], [track.track_id for track in tracks], strict=True)
    )
    zone_ids = {zone.zone_id: f"{text}{zone.zone_id}" for zone in base.zones}
    return dataclasses.replace(
        base,
        tracks=tracks,
        zones=tuple(
            dataclasses.replace(
                zone,
                zone_id=zone_ids[zone.zone_id],
                issued=text,
                note=text,
                file=text,
                datum_note=text,
                rules=Rules(gears=(text,), time_zone=text),
            )
            for zone in base.zones
        ),
        margins_m={zone_ids[k]: v for k, v in base.margins_m.items()},
        in_force={zone_ids[k]: v for k, v in base.in_force.items()},
        gaps={ids[k]: tuple(_with_reach(gap, text) for gap in v) for k, v in base.gaps.items()},
        doubts=(Doubt(track_id=text, first=0, last=1, from_utc=NEVER, to_utc=NEVER, seconds=1.0),),
        log_disagreements={text: (_disagreement(text),)},
        moves=(_move(text),),
        lengths_m={ids[k]: v for k, v in base.lengths_m.items()},
        tows=tuple(
            dataclasses.replace(tow, track_id=ids[tow.track_id], basis=text, haul_id=text)
            for tow in base.tows
        ),
        rows=tuple(
            dataclasses.replace(
                row, track_id=ids[row.track_id], zone_id=zone_ids[row.zone_id], reason=text, explain=text
            )
            for row in base.rows
        ),
        assumptions=(text,),
        warnings=(Remark(file=text, where=text, message=text),),
        inputs=tuple(
            dataclasses.replace(entry, file=text, sha256=text, form=text, tally={text: 1})
            for entry in base.inputs
        ),
        settings={**base.settings, text: text, "list": [text]},
        methods={text: {"deep": text}},
        version=text,
    )


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: ascii(text)[:20])
def test_hostile_text_stays_text_everywhere(text: str, parsed: Parsed) -> None:
    """The same elements and attributes as with harmless names, and the very characters shown."""
    result = hostile_result(text)
    found = Parsed(render_record(result, result_json(result), text))

    assert {tag for tag, _ in found.tags} == {tag for tag, _ in parsed.tags}
    attributes = {name for _, attrs in found.tags for name in attrs}
    assert attributes == {name for _, attrs in parsed.tags for name in attrs}
    assert not [name for name in attributes if name.startswith("on")]
    assert len(found.scripts) == len(parsed.scripts)
    assert found.runnable[:2] == parsed.runnable[:2]
    assert found.comments == parsed.comments
    assert short(text) in found.words
    assert json.loads(found.island("result"))["rows"][0]["zone_name"] == text
    drawn = json.loads(found.island("chart-data"))
    assert {zone["name"] for zone in drawn["zones"]} == {short(text, 40)}


@functools.cache
def gear_result() -> CheckResult:
    return build_gear_result(planned=False)


@pytest.fixture(scope="module")
def harmless_gear() -> Parsed:
    return Parsed(render_record(hostile_gear("harmless"), "{}", ""))


def hostile_gear(text: str) -> CheckResult:
    """Return a result with gear and one text in every place of it that text from outside might reach."""
    base = gear_result()
    account = base.gear
    assert account is not None

    def renamed(figure: Figure) -> Figure:
        return dataclasses.replace(figure, name=text, unit=text, source=text)

    track_id = f"{text}0"
    tows = tuple(
        dataclasses.replace(
            tow,
            track_id=track_id,
            lines=tuple(dataclasses.replace(line, part=text) for line in tow.lines),
            figures=tuple(renamed(figure) for figure in tow.figures),
            flags=tuple(dataclasses.replace(flag, kind=text, words=text) for flag in tow.flags),
            why_not=text if tow.why_not else "",
        )
        for tow in account.tows
    )
    return dataclasses.replace(
        base,
        tracks=tuple(dataclasses.replace(track, track_id=track_id) for track in base.tracks),
        gaps={track_id: ()},
        lengths_m={track_id: 1.0},
        tows=tuple(dataclasses.replace(tow, track_id=track_id) for tow in base.tows),
        zones=tuple(dataclasses.replace(zone, name=text) for zone in base.zones),
        rows=tuple(
            dataclasses.replace(
                row,
                track_id=track_id,
                gear=row.gear and dataclasses.replace(row.gear, nearest_part=text, flags=(text, "other")),
            )
            for row in base.rows
        ),
        gear=dataclasses.replace(
            account,
            tows=tows,
            effects=tuple(
                dataclasses.replace(effect, figure=renamed(effect.figure)) for effect in account.effects
            ),
            effects_track_id=track_id,
        ),
    )


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: ascii(text)[:20])
def test_hostile_text_about_the_gear_stays_text_everywhere(text: str, harmless_gear: Parsed) -> None:
    expected, page = harmless_gear, render_record(hostile_gear(text), "{}", "")
    found = Parsed(page)

    # A long name pushes another off the still chart; all else is the same, element by element.
    assert Counter(tag for tag, _ in found.tags if tag != "text") == Counter(
        tag for tag, _ in expected.tags if tag != "text"
    )
    assert {name for _, a in found.tags for name in a} == {name for _, a in expected.tags for name in a}
    assert found.runnable == expected.runnable
    assert found.comments == expected.comments
    assert found.words.count(short(text)) >= 20
    assert page.encode("utf-8")


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: ascii(text)[:20])
def test_record_with_hostile_text_is_valid_utf_8(text: str) -> None:
    result = hostile_result(text)

    assert render_record(result, result_json(result), "").encode("utf-8")


def _hashes(texts: list[str]) -> set[str]:
    digests = (hashlib.sha256(text.encode()).digest() for text in texts)
    return {f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests}


def test_policy_allows_the_page_its_own_scripts_and_styles_and_nothing_else(
    page: str, parsed: Parsed
) -> None:
    (policy,) = [a["content"] for t, a in parsed.tags if a.get("http-equiv") == "Content-Security-Policy"]
    assert policy is not None
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    styles = re.findall(r"<style>(.*?)</style>", page, re.DOTALL)

    assert set(rules.pop("script-src").split()) == _hashes(parsed.runnable)
    assert set(rules.pop("style-src").split()) == _hashes(styles)
    assert rules == {
        "default-src": "'none'",
        "img-src": "data:",
        "base-uri": "'none'",
        "form-action": "'none'",
    }
    assert len(parsed.runnable) == 3
    assert len(styles) == page.count("<style") >= 2


def test_page_names_no_outside_file(page: str, parsed: Parsed) -> None:
    fetching = {
        "src",
        "href",
        "xlink:href",
        "srcset",
        "action",
        "poster",
        "data",
        "background",
        "ping",
        "manifest",
    }
    assert [(tag, attrs) for tag, attrs in parsed.tags if fetching & set(attrs)] == []
    assert {tag for tag, _ in parsed.tags} & {
        "link",
        "base",
        "iframe",
        "object",
        "embed",
        "form",
        "img",
    } == set()

    own = page.replace(load_leaflet().script, "")
    assert set(re.findall(r"url\(([^)]*)\)", own)) <= {f"#{n}" for n in re.findall(r'id="([^"]+)"', own)}
    assert "@import" not in own
    assert set(re.findall(r"https?://[^\s\"'<]*", own)) == {"http://www.w3.org/2000/svg"}


def test_leaflet_names_only_its_home_and_the_svg_namespace() -> None:
    """Plain text that is never fetched: the control that would show the link is switched off."""
    links = set(re.findall(r"https?://[^\s\"'<]*", load_leaflet().script))

    assert links == {"https://leafletjs.com", "http://www.w3.org/2000/svg"}


def test_result_is_embedded_once_and_reads_back_the_same(parsed: Parsed) -> None:
    text = result_json(build_result())

    assert json.loads(parsed.island("result")) == json.loads(text)
    assert parsed.island("result") == text.replace("<", "\\u003c").replace(">", "\\u003e").replace(
        "&", "\\u0026"
    )


def test_result_text_that_is_not_json_is_refused() -> None:
    with pytest.raises(ValueError, match="Expecting"):
        render_record(build_result(), "{", "")


def test_table_has_every_row_once_and_worst_first(parsed: Parsed) -> None:
    result = build_result()
    rows = [
        attrs for tag, attrs in parsed.tags if tag == "tbody" and "row" in (attrs.get("class") or "").split()
    ]

    assert [attrs["id"] for attrs in rows] == [f"row-{i}" for i in range(1, len(result.rows) + 1)]
    assert [attrs["class"] for attrs in rows] == [f"row s-{row.status}" for row in result.rows]
    buttons = [attrs for tag, attrs in parsed.tags if tag == "button" and "data-row" in attrs]
    buttons = [attrs for attrs in buttons if "show" in (attrs["class"] or "").split()]
    assert len(buttons) == len(result.rows)
    for row in result.rows:
        assert row.explain in parsed.words
        assert row.closest is not None
        assert format_position(row.closest.lon_deg, row.closest.lat_deg) in parsed.words


def test_still_chart_shows_every_zone_with_its_name(page: str) -> None:
    svg = page[page.index('<svg class="still"') :]
    svg = svg[: svg.index("</svg>")]

    for name in NAMES:
        assert f">{name}</text>" in svg
    for kind in ("closed_area", "cable", "safety_zone", "obstruction", "pipeline"):
        assert re.search(rf'<(path|circle) class="zone k-{kind}[ "]', svg)
    assert 'class="gap' in svg
    assert "nmi at 63°" in svg
    numbers = re.findall(r'class="pin-number"[^>]*>(\d+)<', svg)
    important = (Status.INSIDE, Status.TOO_CLOSE, Status.UNDETERMINED)
    assert numbers == [str(i) for i, row in enumerate(build_result().rows, 1) if row.status in important]


def test_first_screen_says_outcome_worst_and_caution(parsed: Parsed) -> None:
    words = parsed.words
    order = (
        "problems found in ",
        "Where: ",
        "When: ",
        "Rule: ",
        "3 findings in 20 pairs of track and ",
    )
    order += ("Not proved", "Caution.", "Index of tows", "Chart", "Results, worst first", "Assumptions")

    places = [words.index(text) for text in order]
    assert places == sorted(places)
    assert "3 problems found in 2 tows and on the planned tow. The worst: " in words
    assert "The worst: on Invented trip, the vessel on tow 2 was " in words
    assert "3 findings in 20 pairs of track and zone: 2 inside and 1 too close." in words
    assert "A clear result is never permission to tow over a cable." in words
    assert "not for navigation" in words


def test_evidence_is_complete(parsed: Parsed) -> None:
    words = parsed.words
    result = build_result()

    for text in (
        *result.assumptions,
        result.warnings[0].message,
        result.inputs[0].sha256,
        str(result.inputs[0].bytes),
    ):
        assert text in words
    for text in (
        "no source stated",
        "Rule: covers gear OTB",
        "not in force",
        "position_error_m",
    ):
        assert text in words
    for part in ("towzone", "Leaflet", "folium", "numpy", "shapely", "pyproj", "GSHHG 2.3.6"):
        assert part in words
    assert "BSD 2-Clause License" in parsed.comments[0]


@pytest.mark.parametrize(
    ("statuses", "beyond", "begins"),
    [
        ((), 0, "Nothing was checked"),
        ((), 3, "Nothing found for the vessel, under the assumptions below; its gear was not checked"),
        (
            (Status.TRANSIT, Status.CLEAR),
            0,
            "Nothing found: of 2 pairs of track and zone 1 crossed in transit, 1 clear",
        ),
        (
            (Status.CLEAR,),
            0,
            "Nothing found for the vessel, under the assumptions below; its gear was not checked",
        ),
        ((Status.UNDETERMINED, Status.CLEAR), 1, "No finding, but not all was proved clear: of 3 pairs"),
        (
            (Status.TOO_CLOSE, Status.UNDETERMINED),
            0,
            "1 finding in 2 pairs of track and zone: 1 too close. The others: 1",
        ),
    ],
)
def test_outcome_in_words_never_claims_more_than_was_proved(
    statuses: tuple[Status, ...], beyond: int, begins: str
) -> None:
    base = build_result()
    rows = tuple(dataclasses.replace(base.rows[0], status=status) for status in statuses)
    result = dataclasses.replace(base, rows=rows, beyond_reach=beyond)

    assert outcome_sentence(result).startswith(begins)


def test_record_without_any_row_still_has_chart_and_caution() -> None:
    result = dataclasses.replace(build_result(), rows=())

    words = Parsed(render_record(result, result_json(result), "")).words

    assert "Nothing found for the vessel" in words
    assert "No zone lies within reach of any track." in words


def test_row_without_distance_is_said_to_be_unknown() -> None:
    base = build_result(planned=False)
    row = dataclasses.replace(
        base.rows[0], status=Status.UNDETERMINED, clearance_m=None, closest=None, inside=(), close=()
    )
    result = dataclasses.replace(base, rows=(row,))

    words = Parsed(render_record(result, result_json(result), "")).words

    assert "not known" in words
    assert "nan" not in words.lower().replace("finance", "")


def test_record_without_coast_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coast_module, "_DISTRIBUTION", "no-such-distribution-for-towzone")
    result = build_result()

    words = Parsed(render_record(result, result_json(result), "")).words

    assert "No coast is drawn: no coast data were installed." in words
    assert "GSHHG" not in words


def test_thinned_record_says_how_many_fixes_are_drawn(
    monkeypatch: pytest.MonkeyPatch, parsed: Parsed
) -> None:
    assert "All 564 fixes are drawn." in parsed.words
    monkeypatch.setattr(paths_module, "THIN_ABOVE", 100)
    result = build_result()

    words = Parsed(render_record(result, result_json(result), "")).words

    drawn = re.search(r"(\d+) of 564 fixes are drawn", words)
    assert drawn is not None
    assert 50 < int(drawn[1]) < 564


PROGRAM = """
import hashlib
from gear_results import build_gear_result
from result_builders import result_json
from towzone.record.page import render_record
result = build_gear_result(lon0=179.8, lat0=-17.3)
print(hashlib.sha256(render_record(result, result_json(result), "").encode()).hexdigest())
"""


def test_same_result_gives_the_same_bytes_under_any_hash_seed() -> None:
    tests = Path(__file__).parents[1]
    digests = {
        subprocess.run(
            [sys.executable, "-c", PROGRAM],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(tests), "TZ": zone},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Pacific/Fiji"))
    }

    assert len(digests) == 1
    assert len(digests.pop().strip()) == 64
