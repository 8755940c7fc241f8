"""Chart cells to zones: classes, restrictions, seasons, depths; nothing lost, no unknown datum or update."""

from __future__ import annotations

import random
import struct
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
import s57_cells
from s57_cells import ChartObject, box, coverage, write_cell

from towzone.errors import InputError, UsageError
from towzone.files import chart_cells
from towzone.files.chart_cells import convert_chart
from towzone.files.chart_identity import identify
from towzone.files.chart_mapping import map_object
from towzone.files.properties import read_properties
from towzone.model.draft import Converted, Draft

AREA = [box(1.1, 50.1, 1.4, 50.4)]
LINE = [(1.1, 50.5), (1.2, 50.6), (1.5, 50.5)]
HERE = coverage(1.0, 50.0, 2.0, 51.0)
RHUMB = {"edges": "rhumb"}


def restricted(**attributes: str) -> ChartObject:
    return ChartObject(name="RESARE", attributes=attributes, rings=AREA)


def cell(folder: Path, *objects: ChartObject, **more: object) -> Path:
    return write_cell(folder / "XX5DEMO1.000", [HERE, *objects], **more)  # type: ignore[arg-type]


def convert(
    folder: Path,
    *objects: ChartObject,
    properties: Mapping[str, object] = RHUMB,
    answers: Mapping[int, str] | None = None,
) -> Converted:
    return convert_chart(str(cell(folder, *objects)), properties=properties, answers=answers)


def one(folder: Path, item: ChartObject, **more: object) -> Draft:
    (draft,) = convert(folder, item, **more).drafts  # type: ignore[arg-type]
    return draft


def remarks(converted: Converted) -> str:
    return "\n".join(f"{where}: {message}" for where, message in converted.remarks)


@pytest.mark.parametrize(
    ("item", "kind", "prohibits"),
    [
        (ChartObject(name="CBLSUB", line=LINE), "cable", ["bottom_contact"]),
        (ChartObject(name="CBLARE", rings=AREA), "cable", ["bottom_contact"]),
        (ChartObject(name="PIPSOL", line=LINE), "pipeline", ["bottom_contact"]),
        (ChartObject(name="PIPARE", rings=AREA), "pipeline", ["bottom_contact"]),
        (ChartObject(name="OBSTRN", point=(1.5, 50.5)), "obstruction", ["bottom_contact"]),
        (ChartObject(name="WRECKS", point=(1.5, 50.5)), "obstruction", ["bottom_contact"]),
        (ChartObject(name="UWTROC", point=(1.5, 50.5)), "obstruction", ["bottom_contact"]),
        (ChartObject(name="OFSPLF", point=(1.5, 50.5)), "safety_zone", ["entry"]),
        (ChartObject(name="OSPARE", rings=AREA), "obstruction", ["bottom_contact"]),
        (ChartObject(name="MARCUL", rings=AREA), "obstruction", ["fishing", "bottom_contact"]),
        (ChartObject(name="FSHFAC", rings=AREA), "obstruction", ["fishing", "bottom_contact"]),
        (restricted(RESTRN="3"), "closed_area", ["fishing"]),
        (restricted(RESTRN="4"), "closed_area", ["fishing"]),
        (restricted(RESTRN="5,1"), "closed_area", ["fishing"]),
        (restricted(RESTRN="6"), "closed_area", ["fishing"]),
        (restricted(RESTRN="7"), "closed_area", ["entry"]),
        (restricted(RESTRN="8,3"), "closed_area", ["entry", "fishing"]),
        (restricted(RESTRN="14"), "closed_area", ["entry"]),
        (restricted(RESTRN="24"), "closed_area", ["bottom_contact"]),
        (restricted(CATREA="1"), "safety_zone", ["entry"]),
        (restricted(CATREA="12", RESTRN="3"), "safety_zone", ["entry", "fishing"]),
        (restricted(CATREA="14"), "closed_area", ["entry", "bottom_contact"]),
        (restricted(CATREA="3"), "closed_area", ["fishing"]),
        (
            ChartObject(name="CBLARE", attributes={"RESTRN": "3"}, rings=AREA),
            "cable",
            ["fishing", "bottom_contact"],
        ),
        # Not a class of its own here, but it restricts fishing: a zone all the same.
        (ChartObject(name="PRCARE", attributes={"RESTRN": "5"}, rings=AREA), "closed_area", ["fishing"]),
    ],
)
def test_what_an_object_is_and_prohibits(
    item: ChartObject, kind: str, prohibits: Sequence[str], tmp_path: Path
) -> None:
    """As the reader of zone files will take it."""
    draft = one(tmp_path, item)
    fields, problems, _ = read_properties(draft.properties)
    assert problems == []
    assert fields is not None
    assert (fields.kind, sorted(fields.prohibits)) == (kind, sorted(prohibits))
    assert (draft.shape.is_area, len(draft.shape.lines), len(draft.shape.points)) == (
        bool(item.rings),
        bool(item.line),
        item.point is not None,
    )


def test_corners_are_those_of_the_cell_with_holes(tmp_path: Path) -> None:
    hole = box(1.2, 50.2, 1.3, 50.3)
    item = ChartObject(name="RESARE", attributes={"RESTRN": "3"}, rings=[AREA[0], hole])
    (polygon,) = one(tmp_path, item).shape.polygons
    assert [sorted(ring.tolist()) for ring in polygon] == [
        sorted(map(list, AREA[0])),
        sorted(map(list, hole)),
    ]
    (line,) = one(tmp_path, ChartObject(name="CBLSUB", line=LINE)).shape.lines
    assert line.tolist() == [list(corner) for corner in LINE]


def test_name_note_and_source_tell_what_the_chart_says(tmp_path: Path) -> None:
    attributes = {
        "CATWRK": "2",
        "VALSOU": "12.3",
        "OBJNAM": "Køge Maru",
        "INFORM": "Stern awash",
        "STATUS": "18",
    }
    item = ChartObject(name="WRECKS", attributes=attributes, point=(1.5, 50.5))
    path = cell(tmp_path, item, edition="7", update="0", scale=22_000, issued="20250930")
    (draft,) = convert_chart(str(path), properties=RHUMB).drafts
    assert draft.properties == {
        "zone_id": "XX5DEMO1-WRECKS-1002-1",
        "name": "Køge Maru",
        "kind": "obstruction",
        "note": "wreck (WRECKS); dangerous wreck; depth 12.3 m; existence doubtful; Stern awash",
        "source": "chart cell XX5DEMO1, edition 7, update 0, issued 2025-09-30, compilation scale 1:22000",
        "issued": "2025-09-30",
        "edges": "rhumb",
    }


def test_codes_that_are_not_known_are_printed_as_numbers(tmp_path: Path) -> None:
    draft = one(tmp_path, ChartObject(name="OBSTRN", attributes={"CATOBS": "77"}, point=(1.5, 50.5)))
    assert draft.properties["note"] == "obstruction (OBSTRN); category 77"
    assert draft.properties["name"] == "obstruction"


@pytest.mark.parametrize(
    ("attributes", "expected"),
    [
        ({"PERSTA": "--0401", "PEREND": "--0915"}, {"season": [{"from": "--04-01", "to": "--09-15"}]}),
        ({"PERSTA": "--1001", "PEREND": "--0131"}, {"season": [{"from": "--10-01", "to": "--01-31"}]}),
        ({"PERSTA": "--12", "PEREND": "--02"}, {"season": [{"from": "--12-01", "to": "--02-END"}]}),
        ({"PERSTA": "--12--", "PEREND": "--04--"}, {"season": [{"from": "--12-01", "to": "--04-30"}]}),
        ({"PERSTA": "--0301", "PEREND": "--0229"}, {"season": [{"from": "--03-01", "to": "--02-END"}]}),
        ({"DATSTA": "20260301"}, {"valid_from": "2026-03-01"}),
        ({"DATEND": "19890000"}, {"valid_until": "1989-12-31"}),
        ({"DATSTA": "2024", "DATEND": "202402"}, {"valid_from": "2024-01-01", "valid_until": "2024-02-29"}),
        ({"DATSTA": "202604--"}, {"valid_from": "2026-04-01"}),
    ],
)
def test_seasons_and_dates_whole_and_in_part(
    attributes: dict[str, str], expected: dict[str, object], tmp_path: Path
) -> None:
    draft = one(tmp_path, restricted(RESTRN="3", **attributes))
    rules = {
        key: draft.properties[key]
        for key in ("season", "valid_from", "valid_until")
        if key in draft.properties
    }
    assert rules == expected
    assert read_properties(draft.properties)[1] == []


@pytest.mark.parametrize(
    "attributes",
    [
        {"PERSTA": "--0401"},
        {"PEREND": "--0401"},
        {"PERSTA": "--1301", "PEREND": "--0401"},
        {"PERSTA": "--0230", "PEREND": "--0401"},
        {"PERSTA": "20260401", "PEREND": "--0501"},
        {"DATEND": "20260230"},
        {"DATEND": "--0401"},
        {"DATEND": "soon"},
        {"DATSTA": "20260501", "DATEND": "20260401"},
    ],
)
def test_times_that_cannot_be_read_leave_the_zone_in_force_and_are_said(
    attributes: dict[str, str], tmp_path: Path
) -> None:
    converted = convert(tmp_path, restricted(RESTRN="3", **attributes))
    (draft,) = converted.drafts
    assert not {"season", "valid_from", "valid_until"} & set(draft.properties)
    assert "taken to be in force" in remarks(converted)


def test_a_restriction_nobody_knows_is_asked_once_for_all_of_its_kind(tmp_path: Path) -> None:
    items = [restricted(RESTRN="33"), restricted(RESTRN="33"), restricted(RESTRN="3,34")]
    converted = convert(tmp_path, *items)
    assert [question.number for question in converted.questions] == [1, 2]
    assert "restriction 33" in converted.questions[0].text
    assert converted.questions[0].answers == ("entry", "fishing", "bottom_contact", "nothing")
    answered = convert(tmp_path, *items, answers={1: "entry", 2: "nothing"})
    assert answered.questions == ()
    assert [draft.properties.get("prohibits") for draft in answered.drafts] == [["entry"], ["entry"], None]
    assert "restriction 33" in str(answered.drafts[0].properties["note"])


@pytest.mark.parametrize(
    ("attributes", "said"), [({"CATREA": "4"}, "nature reserve"), ({}, "no restriction")]
)
def test_an_area_that_does_not_say_what_it_restricts_is_asked(
    attributes: dict[str, str], said: str, tmp_path: Path
) -> None:
    (question,) = convert(tmp_path, restricted(**attributes)).questions
    assert said in question.text


def test_areas_that_do_not_concern_a_tow_are_left_out_and_counted(tmp_path: Path) -> None:
    converted = convert(tmp_path, restricted(RESTRN="1"), restricted(RESTRN="1,11"), restricted(RESTRN="3"))
    assert len(converted.drafts) == 1
    assert "1 object left out, nothing for a tow: RESARE: anchoring prohibited\n" in remarks(converted)
    assert "RESARE: anchoring prohibited, diving prohibited" in remarks(converted)


def test_a_cell_with_nothing_for_a_tow_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="nothing in the cell concerns a tow"):
        convert(tmp_path, restricted(RESTRN="1"), ChartObject(name="DEPARE", rings=AREA))


def test_points_and_lines_get_no_distance_unless_given_one(tmp_path: Path) -> None:
    items = [
        ChartObject(name="WRECKS", point=(1.5, 50.5)),
        ChartObject(name="CBLSUB", line=LINE),
        restricted(RESTRN="3"),
    ]
    converted = convert(tmp_path, *items)
    assert all("radius" not in draft.properties for draft in converted.drafts)
    assert "no further than themselves (1 CBLSUB, 1 WRECKS)" in remarks(converted)
    spread = convert(tmp_path, *items, properties=RHUMB | {"radius": "500m", "margin": "0.25nmi"})
    radii = {draft.properties["kind"]: draft.properties.get("radius") for draft in spread.drafts}
    assert radii == {"closed_area": None, "cable": "500m", "obstruction": "500m"}
    assert {draft.properties["margin"] for draft in spread.drafts} == {"0.25nmi"}
    assert "no further than themselves" not in remarks(spread)


def test_edges_are_asked_with_the_metres_they_leave_open(tmp_path: Path) -> None:
    """Parallels of 0.3 degrees at 50.4 N: 0.3 squared times 111 m or so at 1 degree."""
    (question,) = convert(tmp_path, restricted(RESTRN="3"), properties={}).questions
    assert "lie up to 11 m here" in question.text
    answered = convert(tmp_path, restricted(RESTRN="3"), properties={}, answers={1: "rhumb"})
    assert answered.drafts[0].properties["edges"] == "rhumb"
    assert convert(tmp_path, ChartObject(name="WRECKS", point=(1.5, 50.5)), properties={}).questions == ()


@pytest.mark.parametrize("name", ["kind", "prohibits", "season", "source", "colour"])
def test_what_the_chart_says_itself_cannot_be_given(name: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=f"'{name}' cannot be given for a whole chart"):
        convert(tmp_path, restricted(RESTRN="3"), properties={name: "x"})


def test_where_the_chart_ends_is_said(tmp_path: Path) -> None:
    said = remarks(convert(tmp_path, restricted(RESTRN="3")))
    assert "all its data lie between 50°00.000'N 001°00.000'E and 51°00.000'N 002°00.000'E" in said
    assert "outside the chart is not outside all zones" in said
    assert "not for navigation" in said


@pytest.mark.parametrize("datum", [0, 1, 3, 10])
def test_another_datum_is_refused_whatever_the_library_says(datum: int, tmp_path: Path) -> None:
    """The library reports WGS 84 for every cell."""
    path = cell(tmp_path, restricted(RESTRN="3"), horizontal_datum=datum)
    with pytest.raises(InputError, match=rf"horizontal datum '{datum}' \(DSPM_HDAT\), not on WGS 84"):
        convert_chart(str(path), properties=RHUMB)


@pytest.mark.parametrize(
    "covered", [(), (ChartObject(name="M_COVR", attributes={"CATCOV": "2"}, rings=AREA),)]
)
def test_a_cell_without_coverage_is_refused(covered: Sequence[ChartObject], tmp_path: Path) -> None:
    path = write_cell(tmp_path / "XX5DEMO1.000", [*covered, restricted(RESTRN="3")])
    with pytest.raises(InputError, match="M_COVR with CATCOV 1"):
        convert_chart(str(path), properties=RHUMB)


def update(folder: Path, number: int, **more: object) -> Path:
    path = folder / f"XX5DEMO1.{number:03d}"
    settings: dict[str, object] = {
        "purpose": 2,
        "update": str(number),
        "first": 100 * number,
        "name": "XX5DEMO1",
    }
    return write_cell(path, [ChartObject(name="CBLSUB", line=LINE)], **settings | more)  # type: ignore[arg-type]


def test_updates_beside_the_cell_are_applied_and_named(tmp_path: Path) -> None:
    path = cell(tmp_path, restricted(RESTRN="3"))
    update(tmp_path, 1, issued="20260201")
    update(tmp_path, 2, issued="20260301")
    drafts = convert_chart(str(path), properties=RHUMB).drafts
    assert [draft.properties["kind"] for draft in drafts] == ["closed_area", "cable", "cable"]
    assert drafts[0].properties["source"] == (
        "chart cell XX5DEMO1, edition 3, update 2, issued 2026-03-01, compilation scale 1:50000"
    )


def test_a_missing_update_is_named_not_passed_over(tmp_path: Path) -> None:
    """The library stops at the gap without a word."""
    path = cell(tmp_path, restricted(RESTRN="3"))
    update(tmp_path, 2)
    with pytest.raises(InputError, match=r"update \.001 is missing, so update XX5DEMO1\.002"):
        convert_chart(str(path), properties=RHUMB)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"edition": "2"}, "of edition '2', the cell is edition '3'"),
        ({"update": "4"}, "is update '4' of edition '3'"),
        ({"edition": "0"}, "cancels the cell"),
        ({"purpose": 1}, "is a base cell of its own"),
    ],
)
def test_an_update_that_does_not_belong_is_named(more: dict[str, object], said: str, tmp_path: Path) -> None:
    path = cell(tmp_path, restricted(RESTRN="3"))
    update(tmp_path, 1, **more)
    with pytest.raises(InputError, match=said):
        convert_chart(str(path), properties=RHUMB)


@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
def test_a_damaged_update_is_named(share: float, tmp_path: Path) -> None:
    """The library passes over it without a word."""
    path = cell(tmp_path, restricted(RESTRN="3"))
    broken = update(tmp_path, 1)
    broken.write_bytes(broken.read_bytes()[: int(broken.stat().st_size * share)])
    with pytest.raises(InputError, match=r"XX5DEMO1\.001: "):
        convert_chart(str(path), properties=RHUMB)


def test_an_update_alone_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="this is an update; give the base cell"):
        convert_chart(str(update(tmp_path, 1)), properties=RHUMB)
    alone = update(tmp_path, 1).rename(tmp_path / "XX5DEMO1.000")
    with pytest.raises(InputError, match="alone it holds only changes"):
        convert_chart(str(alone), properties=RHUMB)


def test_other_chart_formats_are_told_by_their_first_bytes(tmp_path: Path) -> None:
    path = cell(tmp_path, restricted(RESTRN="3"))
    data = path.read_bytes()
    for content, said in (
        (data.replace(b"DSPM", b"CSID"), "an S-101 cell"),
        (data.replace(b"VRID", b"CATD"), "the catalogue of an exchange set"),
        (random.Random(1).randbytes(4000), r"encrypted \(S-63\)"),
        (b"PK\3\4" + bytes(100), r"encrypted \(S-63\)"),
        (b"!", r"encrypted \(S-63\)"),
        (data.replace(b"VRID", b"XRID"), r"encrypted \(S-63\)"),
    ):
        path.write_bytes(content)
        with pytest.raises(InputError, match=said):
            convert_chart(str(path), properties=RHUMB)
    with pytest.raises(InputError, match=r"ending in \.000"):
        convert_chart(str(path.rename(tmp_path / "XX5DEMO1.s57")), properties=RHUMB)


def test_a_cell_cut_off_anywhere_is_refused(tmp_path: Path) -> None:
    path = cell(tmp_path, restricted(RESTRN="3"), ChartObject(name="CBLSUB", line=LINE))
    data = path.read_bytes()
    for end in range(1, len(data), 37):
        path.write_bytes(data[:end])
        with pytest.raises(InputError, match=r"damaged|cut off|encrypted|M_COVR|which data set|DSPM_HDAT"):
            convert_chart(str(path), properties=RHUMB)


def test_flipped_bits_are_refused_or_harmless_but_never_end_the_program(tmp_path: Path) -> None:
    """Measured: over damaged frames of records the library ends the whole program."""
    path = cell(tmp_path, restricted(RESTRN="3"), ChartObject(name="CBLSUB", line=LINE))
    data = path.read_bytes()
    chance = random.Random(20260115)
    refused = 0
    for _ in range(150):
        changed = bytearray(data)
        changed[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        path.write_bytes(changed)
        try:
            convert_chart(str(path), properties=RHUMB)
        except InputError:
            refused += 1
    assert 50 < refused < 150


@pytest.mark.parametrize(
    ("item", "pointer"),
    [
        (restricted(RESTRN="3"), 0),
        (ChartObject(name="CBLSUB", line=LINE), 0),
        # The area keeps its outer ring and would silently lose its hole.
        (
            ChartObject(
                name="RESARE", attributes={"RESTRN": "3"}, rings=[AREA[0], box(1.2, 50.2, 1.3, 50.3)]
            ),
            1,
        ),
    ],
)
def test_an_object_that_lost_a_part_is_refused(
    item: ChartObject, pointer: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The library warns and hands out what is left."""
    real, made = s57_cells._Cell._pointer, []

    def astray(self: s57_cells._Cell, target: bytes, orientation: int, usage: int) -> bytes:
        if len(self.features) == 1:
            made.append(target)
        lost = len(made) == pointer + 1
        return real(self, struct.pack("<BI", target[0], 999) if lost else target, orientation, usage)

    monkeypatch.setattr(s57_cells._Cell, "_pointer", astray)
    with pytest.raises(InputError, match="spatial record 999"):
        convert(tmp_path, item)


def test_an_update_the_library_passed_over_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even if it looks right from outside."""
    monkeypatch.setattr(chart_cells, "_check_updates", lambda *_: None)
    path = cell(tmp_path, restricted(RESTRN="3"))
    update(tmp_path, 2)
    with pytest.raises(InputError, match=r"update \.002 beside it was not applied, only up to '0'"):
        convert_chart(str(path), properties=RHUMB)


def test_parts_of_one_object_get_ids_of_their_own(tmp_path: Path) -> None:
    items = [
        ChartObject(name="CBLSUB", line=LINE, number=7),
        ChartObject(name="CBLSUB", line=LINE[:2], number=7),
    ]
    ids = [draft.properties["zone_id"] for draft in convert(tmp_path, *items).drafts]
    assert ids == ["XX5DEMO1-CBLSUB-7-1", "XX5DEMO1-CBLSUB-7-1-2"]


def test_every_broken_end_of_a_field_is_found_before_the_library_sees_it(tmp_path: Path) -> None:
    """Each of these ends the whole program there."""
    data = cell(tmp_path, restricted(RESTRN="3"), ChartObject(name="CBLSUB", line=LINE)).read_bytes()
    records = [
        at for at in range(len(data)) if data[at : at + 5].isdigit() and data[at + 5 : at + 7] == b" D"
    ]
    assert len(records) == 2 + 3 + 3 + 4  # the cell, its coverage, the area, the cable with two ends
    ends = {start + int(data[start + 12 : start + 17]) - 1 for start in records}
    ends |= {start + int(data[start : start + 5]) - 1 for start in records}
    ends.add(data.index(b"3\x1f\x1e", records[0]) + 1)
    for end in sorted(ends):
        changed = bytearray(data)
        changed[end] ^= 0x80
        with pytest.raises(InputError, match="damaged or cut off in record"):
            identify(bytes(changed), "XX5DEMO1.000")


def test_a_record_that_does_not_state_its_length_is_measured(tmp_path: Path) -> None:
    """ISO 8211 writes nothing for records over five digits."""
    data = cell(tmp_path, restricted(RESTRN="3")).read_bytes()
    start = int(data[:5])
    identity = identify(data[:start] + b"00000" + data[start + 5 :], "XX5DEMO1.000")
    assert identity == identify(data, "XX5DEMO1.000")
    assert (identity.name, identity.edition, identity.update, identity.is_update) == (
        "XX5DEMO1.000",
        "3",
        "0",
        False,
    )


def test_reading_leaves_the_folder_as_it_was(tmp_path: Path) -> None:
    path = cell(tmp_path, restricted(RESTRN="3"))
    before = path.read_bytes()
    convert_chart(str(path), properties=RHUMB)
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    assert path.read_bytes() == before


def test_lists_of_codes_are_read_in_any_form() -> None:
    """Text with commas, a list of texts, or a number, as libraries differ."""
    notes = [
        map_object("RESARE", {"RESTRN": value}, lambda _: None).properties
        for value in ("3,27", ["3", "27"], "3, 27")
    ]
    assert notes[0] == notes[1] == notes[2] is not None
    assert map_object("WRECKS", {"CATWRK": 2}, lambda _: None).properties == {
        "kind": "obstruction",
        "name": "wreck",
        "note": "wreck (WRECKS); dangerous wreck",
    }


def test_a_code_that_is_no_number_is_not_lost() -> None:
    asked: list[tuple[str, ...]] = []
    map_object("RESARE", {"RESTRN": "x"}, lambda unknown: asked.append(unknown))
    assert asked == [("restriction x",)]
