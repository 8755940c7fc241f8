"""The overview of a fleet: nothing unchecked looks clear, the worst stands first, hostile text stays text."""

from __future__ import annotations

import dataclasses
import json
import random
import re
import subprocess
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

import pytest
from fleet_lines import HOSTILE, build_fleet, build_totals, vessel_line, zone_line

from towzone.model.fleet import FleetOutcome, InputSeen, KnownBy, Unread, VesselLine, record_name, worst_first
from towzone.record.overview.commands import file_word, shell_word
from towzone.record.overview.ledger import PRINTED
from towzone.record.overview.page import render_overview
from towzone.record.overview.vessels import vessel_ledger
from towzone.record.proof.reading import read_record

UNREAD = Unread(file="b.csv", reason="line 3: no position", vessels=None)
PARTLY = Unread(file="c.csv", reason="line 9: no time", vessels=("N",))


class Reader(HTMLParser):
    """Gathers elements with their attributes, all words, and the text of every element with an id."""

    def __init__(self) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[tuple[str, str]] = []
        self.texts: dict[str, str] = {}
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in ("meta", "input"):
            self.open.append((tag, dict(attrs).get("id") or ""))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        for _, name in self.open:
            if name:
                self.texts[name] = self.texts.get(name, "") + data
        if self.open and self.open[-1][0] not in ("script", "style"):
            self.words.append(data)


def read(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    return reader


def overview(*lines: VesselLine, records: tuple[str, ...] = (), **changes: Any) -> Reader:
    return read(render_overview(build_totals(lines, **changes), lines, records))


def ledger(reader: Reader, name: str) -> dict[str, Any]:
    return next(one for one in json.loads(reader.texts["ledgers"]) if one["name"] == name)


def names(reader: Reader) -> list[str]:
    firsts = [entry[1][0] for entry in ledger(reader, "vessels")["entries"]]
    return [first if isinstance(first, str) else first[0] for first in firsts]


def looks(reader: Reader) -> str:
    return next(a["class"] or "" for _, a in reader.elements if (a.get("class") or "").startswith("answer"))


NOT_CHECKED = vessel_line("N", outcome=FleetOutcome.NOT_CHECKED, problem="1 position", counts={})
FAULT = vessel_line("F", outcome=FleetOutcome.FAULT, problem="a fault", counts={})
OPEN = vessel_line("U", outcome=FleetOutcome.UNDETERMINED, counts={"undetermined": 2, "clear": 3})
FOUND = vessel_line(
    "P", outcome=FleetOutcome.FINDING, counts={"inside": 1}, worst_status="inside", worst_clearance_m=-5.0
)
CLEAR = vessel_line("C")


@pytest.mark.parametrize(
    ("lines", "unread", "look", "words"),
    [
        (
            (CLEAR,),
            (),
            "o-clear",
            "1 vessel: 0 with problems, 0 not decided, 1 clear. Each of them was",
        ),
        ((CLEAR, OPEN), (), "o-undetermined", "2 vessels: 0 with problems, 1 not decided, 1 clear."),
        ((CLEAR, NOT_CHECKED), (), "o-unchecked", "2 vessels: 1 NOT CHECKED, 0 with problems, 0 not decided"),
        ((CLEAR, FAULT), (), "o-unchecked", "2 vessels: 1 NOT CHECKED, 0 with problems"),
        ((CLEAR,), (UNREAD,), "o-unchecked", "1 clear. 1 FILE OR PART OF A FILE COULD NOT BE READ"),
        ((CLEAR, NOT_CHECKED), (PARTLY, UNREAD), "o-unchecked", "1 FILE OR PART OF A FILE COULD NOT BE READ"),
        ((CLEAR, NOT_CHECKED), (PARTLY,), "o-unchecked", "1 file or part of a file could not be read; its"),
        ((CLEAR, FOUND, NOT_CHECKED), (UNREAD,), "o-finding", "3 vessels: 1 NOT CHECKED, 1 with problems"),
        ((), (), "o-unchecked", "Nothing was checked"),
        ((), (UNREAD, UNREAD), "o-unchecked", "2 FILES OR PARTS OF FILES COULD NOT BE READ"),
    ],
)
def test_the_first_sentence_tells_what_was_not_checked_and_only_what_was_looks_clear(
    lines: tuple[VesselLine, ...], unread: tuple[Unread, ...], look: str, words: str
) -> None:
    page = overview(*lines, unread=unread)

    assert looks(page) == f"answer {look}"
    assert words in page.texts["outcome"]
    assert ("every file given could be read" in page.texts["outcome"]) == (
        look in ("o-clear", "o-undetermined")
    )


@pytest.mark.parametrize(
    "line",
    [
        vessel_line("X", problem="half of it could not be read"),
        vessel_line("X", counts={}),
        vessel_line("X", counts={"clear": 0}),
        vessel_line("X", problem="?", outcome=FleetOutcome.UNDETERMINED, counts={"undetermined": 1}),
        NOT_CHECKED,
        FAULT,
    ],
)
def test_a_vessel_with_a_problem_or_without_a_pair_is_never_shown_as_clear_or_merely_open(
    line: VesselLine,
) -> None:
    page = overview(CLEAR, line)
    (entry,) = [one for one in ledger(page, "vessels")["entries"] if one[1][0] != "C"]

    assert entry[0] in ("not_checked", "fault")
    assert looks(page) == "answer o-unchecked"
    assert line.problem in page.texts["not-checked"]
    assert "within reach" not in page.texts["not-checked"]
    if not line.problem:
        assert "No reason was given" in page.texts["not-checked"]
        assert entry[3] == "No reason was given."


def test_what_could_not_be_read_stands_in_words_before_any_table() -> None:
    totals = build_totals([CLEAR, NOT_CHECKED], unread=(UNREAD,))
    text = render_overview(totals, [CLEAR, NOT_CHECKED])

    assert text.index('id="not-checked"') < text.index("<table")
    told = read(text).texts["not-checked"]
    assert "b.csv: line 3: no position" in told
    assert "Vessel N: 1 position" in told


def test_of_many_unchecked_some_are_told_and_the_rest_counted() -> None:
    lines = [dataclasses.replace(NOT_CHECKED, vessel=f"N{i}") for i in range(50)]
    page = overview(*lines, unread=(UNREAD,) * 40)
    told = page.texts["not-checked"]

    assert told.count("line 3") + int(re.search(r"And (\d+) more files", told)[1]) == 40
    assert told.count("Vessel N") + int(re.search(r"And (\d+) more vessels", told)[1]) == 50


def test_vessels_stand_worst_first_whatever_their_order_was() -> None:
    deep = dataclasses.replace(FOUND, vessel="deep", worst_clearance_m=-900.0)
    near = dataclasses.replace(FOUND, vessel="near", worst_status="too_close", worst_clearance_m=1.0)
    more = dataclasses.replace(OPEN, vessel="more", counts={"undetermined": 9})
    wanted = ["deep", "P", "near", "F", "N", "more", "U", "C"]
    lines = [CLEAR, OPEN, near, FAULT, FOUND, more, NOT_CHECKED, deep]

    for seed in range(5):
        random.Random(seed).shuffle(lines)
        assert names(overview(*lines)) == wanted
    assert [line.vessel for line in worst_first(lines)] == wanted


def test_the_same_fleet_gives_the_same_bytes_in_any_order() -> None:
    totals, lines = build_fleet(80, 7)
    first = render_overview(totals, lines, ["b.html", "a.html"])

    assert render_overview(totals, reversed(lines), {"a.html", "b.html"}) == first
    assert read_record(first.encode("utf-8", "backslashreplace"), "index.html").unchanged


def _hostile() -> Iterator[VesselLine]:
    for i, text in enumerate(HOSTILE):
        base = (FOUND, NOT_CHECKED, OPEN, CLEAR)[i % 4]
        yield dataclasses.replace(
            base,
            vessel=text,
            spellings=(text,),
            worst_zone_name=text,
            worst_zone_id=text,
            problem=text if base is NOT_CHECKED else "",
            files=(text,),
            profile=text,
            remarks=(text,),
            found_in=(text,),
        )


def test_hostile_text_never_becomes_markup_or_script() -> None:
    lines = list(_hostile())
    zones = tuple(
        zone_line(i, zone_id=text, name=text, source=text, kind=text, worst_vessel=text)
        for i, text in enumerate(HOSTILE)
    )
    changes: dict[str, Any] = {
        "zones": tuple(dataclasses.replace(zone, vessels_with_findings=1) for zone in zones),
        "unread": tuple(Unread(file=text, reason=text, vessels=(text,)) for text in HOSTILE),
        "inputs": tuple(InputSeen(file=text, role=text, sha256=text, bytes=1) for text in HOSTILE),
        "assumptions": tuple((text, 1) for text in HOSTILE),
        "remarks": HOSTILE,
        "settings": {text: text for text in HOSTILE},
        "methods": {text: text for text in HOSTILE},
        "check_words": HOSTILE,
        "version": HOSTILE[0],
    }
    text = render_overview(build_totals(lines, **changes), lines)
    page = read(text)
    plain = overview(*(dataclasses.replace(line, vessel=f"V{i}") for i, line in enumerate(lines)))

    assert {tag for tag, _ in page.elements} <= {tag for tag, _ in plain.elements}
    assert [a.get("id") for tag, a in page.elements if tag == "script"] == [
        *("parts", "words", "shapes", "ledgers"),
        *(None, None),
    ]
    attributes = {name for _, attrs in page.elements for name in attrs}
    assert not {name for name in attributes if name.startswith("on")}
    assert not re.search(r"[\u202a-\u202e\u2066-\u2069\u200b\x00]", text)
    assert "a‹U+202E›b‹U+200B›c" in page.words
    assert "<script>window.taken = 1</script>" in page.words
    assert f"{'x' * 80}… (5000 characters)" in page.words


def test_a_link_leads_to_the_record_beside_the_page_and_nowhere_else() -> None:
    lines = list(_hostile())
    records = tuple(record_name(line.vessel, line.known_by) for line in lines)
    page = overview(*lines, records=records)
    links = [a["href"] for tag, a in page.elements if tag == "a"]

    assert sorted(links) == sorted(f"records/{name}" for name in records)
    assert all(re.fullmatch(r"records/[A-Za-z0-9-]+\.html", link or "") for link in links)
    assert "Command that makes its record" not in "".join(page.words)


def test_names_of_records_are_safe_short_and_no_two_vessels_share_one() -> None:
    vessels = [*HOSTILE, "a", "A", "a ", "con", "aux.html", "\u00e9", "e\u0301", "x" * 300, "x" * 301]
    made = [record_name(vessel, known_by) for vessel in vessels for known_by in KnownBy]

    assert len({name.lower() for name in made}) == len(vessels) * 2
    for name in made:
        assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9-]*\.html", name)
        assert len(name) <= 70
        assert name.split(".")[0].lower() not in ("con", "prn", "aux", "nul", "com1", "lpt1")


@pytest.mark.parametrize("text", [text for text in HOSTILE if "\x00" not in text and "\ud800" not in text])
@pytest.mark.parametrize("shell", ["bash"])
def test_a_shell_takes_a_word_as_it_was_and_runs_nothing_of_it(text: str, shell: str) -> None:
    word = shell_word(text)
    assert word is not None

    ran = subprocess.run([shell, "-c", f"printf %s {word}"], capture_output=True, check=True)
    assert ran.stdout.decode() == text
    assert ran.stderr == b""


def test_what_no_command_line_can_hold_gets_no_command() -> None:
    assert shell_word("\x00") is None
    assert shell_word("\ud800") is None
    for text in ("nul\x00", "\ud800", "x" * 5000):
        words = "".join(overview(dataclasses.replace(CLEAR, spellings=(text,))).words)
        assert "Command that makes its record" not in words
        assert "No command line can name this vessel" in words


def test_of_a_vessel_that_could_not_be_read_nothing_is_said_to_be_none() -> None:
    nothing = {"fixes_read": 0, "fixes_used": 0, "fixes_left_out": 0, "gaps": 0, "tows": 0, "towing_s": 0.0}
    unread = dataclasses.replace(NOT_CHECKED, **nothing, problem="none of its positions could be read")
    totals = build_totals([unread])
    (entry,) = vessel_ledger(totals, [unread], frozenset()).entries

    assert ("not known", "") in entry.cells
    assert not any(text in ("0 gaps", "0.0\u202fh") for cell in entry.cells for text in cell)
    assert {"towing", "gaps"}.isdisjoint(entry.keys)
    assert entry.command is None
    assert entry.note == "none of its positions could be read"


def test_the_command_of_a_vessel_names_its_files_its_spellings_and_all_that_shapes_the_check() -> None:
    line = vessel_line(
        "Brigg O'Neil",
        spellings=("Brigg O'Neil", "BRIGG O'NEIL"),
        files=("-odd.csv", "b c.parquet"),
        profile="v.toml",
    )
    words = "".join(overview(line).words)

    name = record_name("Brigg O'Neil")
    wanted = (
        "towzone check ./-odd.csv 'b c.parquet' '--only=Brigg O'\"'\"'Neil' '--only=BRIGG O'\"'\"'NEIL' "
        f"--vessel v.toml --zones zones.geojson --margin 463m --record {name}"
    )
    assert wanted in words
    assert file_word("-") == "-"


def test_a_vessel_known_by_its_file_alone_is_not_asked_for_by_name() -> None:
    line = vessel_line("trip.csv", known_by=KnownBy.FILE, files=("trip.csv",))
    words = "".join(overview(line).words)

    assert "towzone check trip.csv --zones" in words
    assert "--only" not in words
    assert "known by its file" in words


def test_of_very_many_the_page_holds_the_first_and_says_how_many_it_leaves_out() -> None:
    totals, lines = build_fleet(PRINTED + 300, PRINTED + 1, unread=PRINTED + 2)
    text = render_overview(totals, lines)
    page = read(text)

    assert len(ledger(page, "vessels")["entries"]) == PRINTED + 300
    assert text.count('<tbody class="entry') == 3 * PRINTED + 2
    assert f"the first {PRINTED} of {PRINTED + 300} vessels" in page.texts["vessels"]
    assert f"the first {PRINTED} of {PRINTED + 1} zones" in page.texts["zones"]
    few = overview(CLEAR)
    assert "left-out" not in "".join(a.get("class") or "" for _, a in few.elements)


def test_bytes_grow_with_the_vessels_by_little_more_than_what_is_told_of_each() -> None:
    sizes = {n: len(render_overview(*build_fleet(n, 50)).encode()) for n in (1000, 2000)}

    assert sizes[2000] - sizes[1000] < 1000 * 600


def test_the_page_says_zones_counts_inputs_settings_versions_and_the_caution() -> None:
    totals, lines = build_fleet(30, 5)
    page = read(render_overview(totals, lines))

    assert "Edges of 12 zones that do not say are taken as rhumb lines. 30 vessels" in page.texts["granted"]
    assert "ab" * 32 in page.texts["inputs"]
    assert "position_error_m" in page.texts["settings"]
    assert "geodesic on WGS 84" in page.texts["methods"]
    assert "zone 7 has no source" in page.texts["warnings"]
    assert "".join(page.words).count("not for navigation") == 2
    zones = ledger(page, "zones")["entries"]
    inside = [int(entry[1][1]) for entry in zones]
    assert inside == sorted(inside, reverse=True)
    assert sum(inside) == sum(line.worst_status == "inside" for line in lines)


def test_a_zone_chosen_shows_the_vessels_with_findings_there() -> None:
    totals, lines = build_fleet(200, 9)
    data = ledger(read(render_overview(totals, lines)), "vessels")
    found = [zone.zone_id for zone in totals.zones if zone.vessels_with_findings]
    told: dict[str, set[str]] = {}
    for entry in data["entries"]:
        for group in entry[6] if len(entry) > 6 else ():
            first = entry[1][0]
            told.setdefault(found[group], set()).add(first if isinstance(first, str) else first[0])

    assert told == {zone_id: {line.vessel for line in lines if zone_id in line.found_in} for zone_id in found}


def test_many_problems_of_a_file_stand_in_one_line_and_the_answer_is_not_said_twice() -> None:
    reason = "\n".join(f"a.csv: line {number}: no latitude" for number in range(2, 12))
    unread = Unread(file="a.csv", reason=f"{reason}\na.csv: and 7 more problems", vessels=None)
    totals = build_totals(
        [CLEAR], unread=(unread,), said=("1 vessel: 0 with findings.",), notes=("1 profile not used: x.",)
    )
    page = render_overview(totals, [CLEAR], frozenset())

    told = "line 2: no latitude; line 3: no latitude; ...; and 7 more problems"
    assert f"a.csv: {told}" in page
    assert page.count(told) >= 2
    assert "U+000A" not in page
    assert "with findings" not in page
    assert "1 profile not used: x." in page


def test_gear_that_nobody_checked_is_said_for_all_and_for_some() -> None:
    unchecked = dataclasses.replace(CLEAR, gear_unchecked=True)

    assert "The gear was not checked, only the vessels" in overview(unchecked).texts["answer"]
    assert "The gear of 1 vessel was not checked" in overview(unchecked, CLEAR).texts["answer"]
    assert "gear" not in overview(CLEAR).texts["answer"]


def test_the_picture_marks_problems_and_what_is_open_and_says_what_it_leaves_out() -> None:
    nowhere = dataclasses.replace(FOUND, vessel="nowhere", worst_lon_deg=None)
    page = overview(CLEAR, FOUND, OPEN, NOT_CHECKED, nowhere)
    marks = [a["class"] for _, a in page.elements if (a.get("class") or "") in ("p-finding", "p-open")]

    assert marks == ["p-open", "p-finding"]
    words = "".join(page.words)
    assert "2 vessels are shown, each where it was at its worst. 1 more is in the table only" in words
    assert "findings-picture" not in render_overview(build_totals([CLEAR]), [CLEAR]).split("<body>")[1]


@pytest.mark.parametrize(("west", "east"), [(179.5, -179.5), (-8.0, 2.0), (10.0, 10.0)])
def test_the_picture_is_no_wider_than_the_sea_that_holds_all_points(west: float, east: float) -> None:
    lines = [
        dataclasses.replace(FOUND, vessel=f"{lon}", worst_lon_deg=lon, worst_lat_deg=lat)
        for lon, lat in ((west, 50.0), (east, 52.0))
    ]
    page = overview(*lines)
    tops = [a["d"] or "" for _, a in page.elements if a.get("class") == "p-finding"]
    at = [float(re.match(r"M([\d.]+)", d)[1]) for d in tops]

    assert all(74.0 < x < 992.0 for x in at)
    if west == 179.5:
        assert "180°" in "".join(page.words)
        assert 100.0 < abs(at[0] - at[1]) < 700.0


def test_a_link_that_is_no_record_is_a_fault_of_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("towzone.record.overview.vessels.record_name", lambda *_: "../x.html")

    with pytest.raises(ValueError, match="no record beside the page"):
        overview(CLEAR, records=("../x.html",))
