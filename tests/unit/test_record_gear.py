"""The gear in the record: drawn where it was computed, told with its figures; no word of it where none is."""

from __future__ import annotations

import dataclasses
import html
import json
import re

import numpy as np
import pytest
import shapely
from gear_results import DOORS, SLACK, build_gear_result
from result_builders import build_result, result_json, wrapped

from towzone.model.gear import GearAccount, GearReach, GearTier
from towzone.model.result import CheckResult, InsideStretch, Part, Row, Status
from towzone.record.drawn.frame import metres_per_degree
from towzone.record.drawn.gear import course_of_gear
from towzone.record.drawn.scene import Scene, build_scene
from towzone.record.drawn.thin import GEAR_IN_TIME_M, GEAR_TOLERANCE_M, kept_nodes
from towzone.record.page import render_record
from towzone.record.sections.summary import outcome_sentence

NEVER = np.datetime64("NaT", "us")
PLACES = pytest.mark.parametrize("place", [(-18.6, 63.1), (180.02, -17.3)], ids=["plain", "across-180"])


@pytest.fixture(scope="module")
def result() -> CheckResult:
    return build_gear_result()


@pytest.fixture(scope="module")
def scene(result: CheckResult) -> Scene:
    return build_scene(result)


@pytest.fixture(scope="module")
def page(result: CheckResult) -> str:
    return render_record(result, result_json(result), "")


def words(page: str) -> str:
    """The text of the page outside scripts and styles, blanks made single."""
    body = re.sub(r"<(script|style)[^>]*>.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", body)).split())


def section(page: str, title: str) -> str:
    (found,) = re.findall(rf"<summary><h2>{title}</h2>.*?</section>", page, flags=re.DOTALL)
    return str(found)


def island(page: str) -> dict:
    (text,) = re.findall(r'id="chart-data">(.*?)</script>', page)
    return json.loads(text)


def gear_rows(result: CheckResult) -> list[tuple[int, Row]]:
    return [(i, row) for i, row in enumerate(result.rows) if row.part is Part.GEAR]


def changed(result: CheckResult, index: int, **values: object) -> CheckResult:
    rows = list(result.rows)
    rows[index] = dataclasses.replace(rows[index], **values)
    return dataclasses.replace(result, rows=tuple(rows))


# What is drawn.


@PLACES
def test_what_is_drawn_of_a_path_is_true_to_the_tolerance_and_much_less(place: tuple[float, float]) -> None:
    result = build_gear_result(lon0=place[0], lat0=place[1])
    scene = build_scene(result)

    assert [drawing.tow for drawing in scene.gear] == [1, 2]
    for drawing, tow in zip(scene.gear, result.gear.tows, strict=False):
        for path, line in zip(drawing.paths, tow.lines, strict=True):
            nodes = np.column_stack([line.lon_deg, line.lat_deg])
            np.testing.assert_allclose(
                wrapped(path.whole_deg), wrapped(nodes), rtol=0, atol=1e-9
            )  # the same places, by whole turns
            scale = np.array(metres_per_degree(place[1]))
            drawn = shapely.linestrings(path.drawn_deg * scale)
            off_m = shapely.distance(shapely.points(path.whole_deg * scale), drawn)
            assert off_m.max() <= 1.02 * GEAR_TOLERANCE_M
            assert len(path.drawn_deg) < 0.4 * len(nodes)
            np.testing.assert_array_equal(path.drawn_deg[[0, -1]], path.whole_deg[[0, -1]])


@PLACES
def test_what_is_drawn_of_a_corridor_has_its_edge_and_its_size(place: tuple[float, float]) -> None:
    result = build_gear_result(lon0=place[0], lat0=place[1])
    scale = np.array(metres_per_degree(place[1]))
    for drawing, tow in zip(build_scene(result).gear, result.gear.tows, strict=False):
        for drawn, whole in ((drawing.corridor, tow.corridor), (drawing.likely, tow.likely)):
            assert len(drawn) == len(whole)
            for thin, full in zip(drawn, whole, strict=True):
                turn = 360.0 * np.round((thin[0][0, 0] - full[0][0, 0]) / 360.0)
                edge = shapely.Polygon((full[0] + [turn, 0.0]) * scale, [h * scale for h in full[1:]])
                ring = shapely.Polygon(thin[0] * scale, [h * scale for h in thin[1:]])
                assert ring.is_valid
                off_m = shapely.hausdorff_distance(edge.exterior, ring.exterior)
                assert off_m <= 1.02 * GEAR_TOLERANCE_M
                assert not (thin[0][0] == thin[0][-1]).all()
                assert len(thin[0]) < 0.5 * len(full[0])


@pytest.mark.parametrize("lon", [179.8, 180.02, -179.9])
def test_gear_across_180_degrees_lies_by_its_track(lon: float) -> None:
    scene = build_scene(build_gear_result(lon0=lon, lat0=-17.3))
    track = scene.tracks[0].lonlat_deg[:, 0]

    for drawing in scene.gear:
        assert track.min() - 0.1 < drawing.box.west < drawing.box.east < track.max() + 0.1
    assert scene.view.east - scene.view.west < 2.0


def test_hole_of_a_corridor_is_drawn_in_it() -> None:
    result = build_gear_result(lon0=180.0, lat0=10.0)
    shell = wrapped([(179.9, 10.0), (179.99, 10.0), (179.99, 10.2), (179.9, 10.2)])
    hole = shell[[0, 1, 2]] * [1.0, 1.0] + [[-359.98, 0.05], [-360.02, 0.05], [-360.02, -0.05]]
    tow = dataclasses.replace(result.gear.tows[0], likely=((shell, hole),))
    scene = build_scene(dataclasses.replace(result, gear=GearAccount(tows=(tow,))))

    ((outer, inner),) = scene.gear[0].likely
    assert shapely.Polygon(outer).contains(shapely.Polygon(inner))


def test_a_stretch_of_the_gear_without_length_is_drawn_as_it_is() -> None:
    path = np.array([[1.0, 2.0], [1.0, 2.0]])

    keep = kept_nodes(path, np.zeros(2, dtype=np.bool_), GEAR_TOLERANCE_M, time_s=None, in_time_m=1.0)

    assert keep.all()


@pytest.mark.parametrize("nodes", [1024, 1025, 1026, 5000])
def test_long_paths_are_thinned_and_stay_whole(nodes: int) -> None:
    lon = np.linspace(0.0, 0.1, nodes)
    path = np.column_stack([lon, 60.0 + 0.01 * np.sin(lon * 200.0)])

    none = np.zeros(nodes, dtype=np.bool_)
    drawn = path[kept_nodes(path, none, GEAR_TOLERANCE_M, time_s=None, in_time_m=GEAR_IN_TIME_M)]

    scale = np.array(metres_per_degree(60.0))
    off_m = shapely.distance(shapely.points(path * scale), shapely.linestrings(drawn * scale))
    assert off_m.max() <= 1.02 * GEAR_TOLERANCE_M
    assert (drawn[0] == path[0]).all()
    assert (drawn[-1] == path[-1]).all()


def test_first_view_holds_all_of_the_gear(result: CheckResult) -> None:
    tow = result.gear.tows[0]
    wide = tuple(tuple(ring * [1.0, 1.0] - [[0.0, 0.5]] for ring in area) for area in tow.likely)
    account = GearAccount(tows=(dataclasses.replace(tow, likely=wide),))
    scene = build_scene(dataclasses.replace(result, gear=account))

    (drawing,) = scene.gear
    assert drawing.box.intersection(scene.view) == drawing.box


def test_course_of_a_row_is_that_of_its_own_tow(result: CheckResult, scene: Scene) -> None:
    for _, row in gear_rows(result):
        course = course_of_gear(row, scene.gear, scene.tracks[0])
        (line,) = [x for x in result.gear.tows[row.tow - 1].lines if x.part == row.gear.nearest_part]
        np.testing.assert_allclose(course.times_us / 1e6, line.time_s, rtol=0, atol=1e-5)


def test_of_two_flags_of_one_kind_a_row_tells_the_first(result: CheckResult) -> None:
    tow = result.gear.tows[1]
    flags = (tow.flags[0], dataclasses.replace(tow.flags[0], words="Once more."))
    account = GearAccount(tows=(dataclasses.replace(tow, flags=flags),))
    page = render_record(dataclasses.replace(result, gear=account), "{}", "")

    assert f"There: {SLACK}" in words(page)
    assert "There: Once more." not in words(page)


def test_closest_approach_of_a_gear_row_begins_at_the_gear(result: CheckResult, scene: Scene) -> None:
    for i, row in gear_rows(result):
        assert scene.rows[i].line is not None
        assert row.closest is not None
        np.testing.assert_allclose(
            scene.rows[i].line[0], [row.closest.lon_deg, row.closest.lat_deg], rtol=0, atol=1e-9
        )
        assert scene.rows[i].label.startswith("gear ")
    others = [i for i, row in enumerate(result.rows) if row.part is Part.VESSEL]
    assert not any(scene.rows[i].label.startswith("gear") for i in others)


def test_stretch_of_a_gear_row_is_drawn_on_the_path_of_its_part(result: CheckResult, scene: Scene) -> None:
    """Its ends are where the nearest part was at those times, by a plain look-up in the model."""
    shown = 0
    for i, row in gear_rows(result):
        for highlight, stretch in zip(scene.rows[i].highlights, row.close, strict=True):
            tow = result.gear.tows[row.tow - 1]
            (line,) = [line for line in tow.lines if line.part == row.gear.nearest_part]
            for end, time in ((0, stretch.from_utc), (-1, stretch.to_utc)):
                at = int(np.argmin(np.abs(line.time_s - time.astype(np.int64) / 1e6)))
                there = [line.lon_deg[at], line.lat_deg[at]]
                np.testing.assert_allclose(highlight.lonlat_deg[end], there, rtol=0, atol=2e-5)
            shown += 1
    assert shown


def test_stay_of_the_gear_without_times_is_found_again_on_its_path(result: CheckResult) -> None:
    (i, row), *_ = gear_rows(result)
    tow = result.gear.tows[row.tow - 1]
    line = next(line for line in tow.lines if line.part == DOORS[1])
    a, b = 100, 300
    length_m = float(
        np.hypot(
            *(
                np.diff(np.column_stack([line.lon_deg, line.lat_deg])[a : b + 1], axis=0)
                * metres_per_degree(63.1)
            ).T
        ).sum()
    )
    stay = InsideStretch(
        enter_utc=NEVER,
        enter_lon_deg=float(line.lon_deg[a]),
        enter_lat_deg=float(line.lat_deg[a]),
        leave_utc=NEVER,
        leave_lon_deg=float(line.lon_deg[b]),
        leave_lat_deg=float(line.lat_deg[b]),
        seconds=None,
        length_m=length_m,
        min_speed_kn=None,
        mean_speed_kn=None,
    )
    reach = dataclasses.replace(row.gear, nearest_part=DOORS[1])
    scene = build_scene(changed(result, i, gear=reach, close=(), inside=(stay,)))

    (highlight,) = scene.rows[i].highlights
    assert highlight.kind == "inside"
    assert len(highlight.lonlat_deg) == b - a + 1


def test_gear_row_without_a_known_path_marks_no_stretch(result: CheckResult) -> None:
    (i, row), *_ = gear_rows(result)
    assert row.close
    timed = next(r for r in result.rows if r.inside and not np.isnat(r.inside[0].enter_utc))
    reach = GearReach(
        nearest_part="",
        tier=GearTier.NOT_RULED_OUT,
        sigmas=2.0,
        likely_clearance_m=None,
        rope_clearance_m=1.0,
    )
    scene = build_scene(changed(result, i, gear=reach, inside=timed.inside))

    assert scene.rows[i].highlights == ()


def test_the_still_chart_draws_the_gear_under_the_track(page: str) -> None:
    svg = page[page.index('<svg class="still"') :]
    svg = svg[: svg.index("</svg>")]

    counts = {name: svg.count(f'class="{name}"') for name in ("gear corridor", "gear likely")}
    assert counts == {"gear corridor": 2, "gear likely": 2}
    assert (svg.count('class="gear g-door"'), svg.count('class="gear g-net"')) == (4, 2)
    drawn = [set(re.findall(rf'class="{name}"[^>]* d="([^"]*)"', svg)) for name in counts]
    assert not drawn[0] & drawn[1]
    assert svg.index('class="zone ') < svg.index('class="gear ') < svg.index('class="track ')
    assert svg.rindex('class="gear ') < svg.index('class="track ')


def test_the_data_of_the_chart_hold_what_the_scene_draws(page: str, scene: Scene) -> None:
    data = island(page)["gear"]

    assert [len(gear["corridor"]) for gear in data] == [len(gear.corridor) for gear in scene.gear]
    assert [[path["style"] for path in gear["paths"]] for gear in data] == [["door", "door", "net"]] * 2
    steps = np.array(data[0]["paths"][0]["path"]).reshape(-1, 2).cumsum(axis=0) / 1e6
    np.testing.assert_allclose(steps, scene.gear[0].paths[0].drawn_deg, rtol=0, atol=5.1e-7)


def test_a_part_with_a_name_of_its_own_is_drawn_as_an_end_of_the_gear(result: CheckResult) -> None:
    tow = result.gear.tows[0]
    names = ("clump", "port beam", "x' onload='y")
    lines = tuple(dataclasses.replace(line, part=n) for line, n in zip(tow.lines, names, strict=True))
    account = GearAccount(tows=(dataclasses.replace(tow, lines=lines),))
    page = render_record(dataclasses.replace(result, gear=account), "{}", "")

    assert [path["style"] for path in island(page)["gear"][0]["paths"]] == ["clump", "door", "door"]
    legend = page[page.index('<aside class="legend"') : page.index("</aside>")]
    assert "<span>clump</span>" in legend
    assert "onload" not in page.split("<body>")[1].split("<script")[0]


# What is said.


def test_the_key_explains_every_line_of_the_gear(page: str) -> None:
    legend = page[page.index('<aside class="legend"') : page.index("</aside>")]

    for word in ("Gear: sea bed swept, as computed", "Gear: likely corridor", "doors or beams", "net"):
        assert legend.count(f"<span>{word}</span>") == 1
    assert "<span>clump</span>" not in legend
    assert legend.count('data-layer="gear"') == 1


def test_rows_of_the_gear_name_the_part_and_what_the_spread_leaves(page: str, result: CheckResult) -> None:
    for i, row in gear_rows(result):
        (body,) = re.findall(rf'id="row-{i + 1}" .*?</tbody>', page, flags=re.DOTALL)
        text = words(body)
        assert f"Tow {row.tow}, gear {row.gear.nearest_part} , towing" in text
        if row.gear.likely_clearance_m > 0.0:
            assert f"standard deviations) {row.gear.likely_clearance_m:.1f} m" in text
        else:
            assert (
                "standard deviations) reaches the boundary of the zone or beyond it, how far is not" in text
            )
        assert f"by the rope bound {row.gear.rope_clearance_m:.1f} m" in text
        assert (f"There: {SLACK}" in text) == bool(row.gear.flags)
    vessel = next(i for i, row in enumerate(result.rows) if row.part is Part.VESSEL)
    (body,) = re.findall(rf'id="row-{vessel + 1}" .*?</tbody>', page, flags=re.DOTALL)
    assert "rope bound" not in body


@pytest.mark.parametrize("tier", list(GearTier))
def test_only_what_the_rope_bound_proves_is_called_clear(tier: GearTier, result: CheckResult) -> None:
    (i, row), *_ = gear_rows(result)
    one = dataclasses.replace(result, rows=(result.rows[i],))
    page = render_record(changed(one, 0, gear=dataclasses.replace(row.gear, tier=tier)), "{}", "")

    (body,) = re.findall(r'id="row-1".*?</tbody>', page, flags=re.DOTALL)
    said = words(body).split("The gear is ")[1].split(";")[0]
    assert ("clear" in said) == (tier is GearTier.PROVED_CLEAR)


def test_first_screen_says_that_it_was_the_gear(page: str, result: CheckResult) -> None:
    text = words(page)

    assert "4 findings in 28 pairs of track or gear and zone" in text
    assert "The worst: on Invented trip , the gear of tow 2 was 4846.9 m (2.617 nmi) inside" in text
    assert "Which part: port door." in text
    assert "Unnamed wreck , tow 2, gear: On tow 2" in text
    assert "The gear of 1 tow was not computed; see Gear." in text
    alone = dataclasses.replace(result, rows=tuple(r for r in result.rows if r.part is Part.VESSEL))
    assert "pairs of track and zone" in outcome_sentence(alone)


def test_pairs_beyond_the_reach_are_of_track_or_gear(result: CheckResult) -> None:
    one = dataclasses.replace(result, beyond_reach=1)
    text = words(render_record(one, "{}", ""))

    assert "1 more pair of track or gear and zone is farther apart than the reach" in text


def test_the_section_on_the_gear_says_what_it_rests_on(page: str) -> None:
    text = words(section(page, "Gear"))

    assert "No sea trial was found that shows how trawl doors behave in turns" in text
    assert "What does not depend on them is the rope bound" in text
    assert "327 to 334 m" in text
    assert "507 m" in text
    assert "not computed: The haul log gives no warp for this tow" in text
    assert "Figures of tows 1, 2. ASSUMED ones were stated nowhere." in text
    assert re.search(r"warp 350\.0 m ± 7 stated vessel profile", text)
    assert re.search(r"door spread 80\.0 m 60\.0 m to 105\.0 m , 19 times in 20 derived", text)
    assert re.search(r"sweeps 120\.0 m ± 30 ASSUMED own choice", text)
    assert "<strong>ASSUMED</strong>" in section(page, "Gear")
    times = "2026-03-01 04:43:00 UTC (03:43:00 UTC-1) to 2026-03-01 04:47:00 UTC (03:47:00 UTC-1)"
    assert f"{times} {SLACK}" in text
    assert "nan" not in text.lower().replace("finance", "")


def test_times_of_contact_stand_in_the_right_columns(page: str) -> None:
    table = section(page, "Gear").split("</table>")[0]
    (row,) = [row for row in table.split("<tr>") if ">1 <" in row]
    cells = dict(re.findall(r'<td data-head="([^"]*)">(.*?)</td>', row))

    assert words(cells["Down, by the figures"]) == (
        "2026-03-01 04:09:00 UTC (03:09:00 UTC-1) to 2026-03-01 06:20:00 UTC (05:20:00 UTC-1)"
    )
    assert words(cells["At the most"]) == (
        "2026-03-01 04:03:00 UTC (03:03:00 UTC-1) to 2026-03-01 06:24:00 UTC (05:24:00 UTC-1)"
    )


def test_what_the_least_clearance_depends_on_stands_in_the_order_given(page: str) -> None:
    text = words(section(page, "Gear"))

    start = text.index("What the least gear clearance depends on: tow 2 of Invented trip and Invented Bank")
    assert "now -4846.9 m (-2.617 nmi)." in text[start:]
    drift = text.index("current drift 0.00 kn ASSUMED -0.50 kn -4912.9 m 0.50 kn -4780.9 m", start)
    warp = text.index("warp 350.0 m stated 336.0 m -4840.9 m 364.0 m -4853.2 m", start)
    spread = text.index("door spread 80.0 m derived 60.0 m none: no contact with the bottom", start)
    assert drift < warp < spread


def test_tows_with_figures_of_their_own_have_tables_of_their_own(result: CheckResult) -> None:
    first, second, third = result.gear.tows
    second = dataclasses.replace(second, figures=second.figures[:2])
    account = dataclasses.replace(result.gear, tows=(first, second, third), effects=())
    text = words(section(render_record(dataclasses.replace(result, gear=account), "{}", ""), "Gear"))

    assert "Figures of tow 1. " in text
    assert "Figures of tow 2. " in text
    assert text.count("warp 350.0 m") == 2
    assert "depends on" not in text


def test_how_the_gear_is_drawn_is_said(page: str) -> None:
    assert "All of it is drawn within 0.5 m of what was computed." in words(page)


def test_without_figures_of_the_gear_there_is_no_word_and_no_line_of_it() -> None:
    result = build_result()
    page = render_record(result, result_json(result), "")

    assert island(page)["gear"] == []
    assert 'class="gear' not in page
    assert 'data-layer="gear"' not in page
    assert "<h2>Gear</h2>" not in page
    assert "track or gear" not in words(page)
    assert "rope bound" not in words(page)


def test_gear_that_was_nowhere_computed_is_told_and_not_drawn(result: CheckResult) -> None:
    bare = dataclasses.replace(result, gear=GearAccount(tows=result.gear.tows[2:]))
    page = render_record(bare, "{}", "")

    assert island(page)["gear"] == []
    assert 'data-layer="gear"' not in page
    assert "not computed: The haul log gives no warp" in words(section(page, "Gear"))


def test_a_status_of_the_gear_counts_like_any_other(result: CheckResult) -> None:
    (_, row), *_ = gear_rows(result)
    one = dataclasses.replace(result, rows=(dataclasses.replace(row, status=Status.CLEAR),), beyond_reach=0)

    assert outcome_sentence(one).startswith("Nothing found: 1 pair of track or gear and zone is proved clear")
