"""What must hold of rows of the gear for any tow: order of tiers, monotony, symmetries, cutting, density."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import GEARS, RIGS, laid
from hypothesis import given, settings
from hypothesis import strategies as st
from scenes import KNOT_MPS, START, area, fixes, line, points, steady, zone

from towzone.checks import batches, path_passages, run
from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings, GearProof, Towing
from towzone.files.rule_properties import read_rules
from towzone.model.result import FINDINGS, Part, Status
from towzone.model.vessel import Current
from towzone.model.zone import ZoneKind
from towzone.tows.logged import LoggedHaul

RANK = {
    Status.NOT_IN_FORCE: 0,
    Status.CLEAR: 0,
    Status.UNDETERMINED: 1,
    Status.TOO_CLOSE: 2,
    Status.INSIDE: 3,
}
HOMES = ((-20.0, 57.0), (179.99, -16.0), (30.0, 78.5), (0.0, 0.002))
MPS = 3.0 * KNOT_MPS
few = settings(max_examples=6)


@pytest.fixture(autouse=True, scope="module")
def without_effects():
    """What each figure does is tested elsewhere, and takes most of the time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run, "with_effects", lambda account, *_: account)
        yield


class Scene:
    """A tow with sharp turns and some zones beside it, drawn on a sheet that can be turned over and moved."""

    def __init__(self, seed, turns_deg=(0.0, 30.0, -50.0, 90.0, -120.0, 150.0)):
        rng = np.random.default_rng(seed)
        self.rig = str(rng.choice(list(RIGS)))
        self.home = HOMES[rng.integers(len(HOMES))]
        corners, heading = [(0.0, 0.0)], rng.uniform(0.0, 2.0 * np.pi)
        # Whole minutes, so that every corner is a fix however dense the fixes are.
        for length in 60.0 * MPS * rng.integers(4, 12, rng.integers(2, 4)):
            east, north = corners[-1]
            corners.append((east + length * np.sin(heading), north + length * np.cos(heading)))
            heading += np.radians(rng.choice(turns_deg))
        self.corners = np.array(corners)
        along = self.corners[:-1] + rng.random((len(corners) - 1, 1)) * np.diff(self.corners, axis=0)
        self.spots = [spot + rng.normal(0.0, 250.0, 2) for spot in along[rng.integers(len(along), size=3)]]
        self.away = rng.normal(0.0, 300.0, 2)
        self.margin_m = float(rng.choice([0.0, 60.0, 200.0]))
        self.current = (
            Current(set_deg=float(rng.uniform(0, 360)), drift_kn=0.6) if rng.random() < 0.3 else None
        )
        self.block = rng.uniform(-8.0, 25.0), rng.uniform(-4.0, 4.0)

    def positions(self, xy_m, mirror=False, east_deg=0.0):
        lon_lat = laid(xy_m, self.home)
        lon = (lon_lat[:, 0] + east_deg + 180.0) % 360.0 - 180.0
        return [(float(x), float(-y if mirror else y)) for x, y in zip(lon, lon_lat[:, 1], strict=True)]

    def zones(self, **turned):
        a, b, c = self.spots
        square = c + np.array([[-60.0, -50.0], [70.0, -40.0], [50.0, 60.0], [-80.0, 30.0]])
        return [
            zone(
                points(*self.positions([a], **turned)),
                ZoneKind.OBSTRUCTION,
                zone_id="P",
                margin_m=self.margin_m,
            ),
            zone(
                line(*self.positions([b, b + self.away], **turned)),
                ZoneKind.CABLE,
                zone_id="L",
                margin_m=self.margin_m,
            ),
            zone(area(self.positions(square, **turned)), zone_id="A", margin_m=self.margin_m),
        ]

    def figures(self, mirror=False):
        aft, starboard = self.block
        current = self.current
        if mirror and current is not None:
            current = replace(current, set_deg=(180.0 - current.set_deg) % 360.0)
        return replace(
            RIGS[self.rig],
            block_aft_m=aft,
            block_starboard_m=-starboard if mirror else starboard,
            current=current,
        )

    def track(self, *, step_s=20.0, first_s=0.0, **turned):
        return steady(self.positions(self.corners, **turned), step_s=step_s, first_s=first_s)

    def rows(self, track=None, zones=None, figures=None, **given):
        """The gear's rows by zone; of a tow that is all of the track there is one of each."""
        known = {
            "towing": Towing.ALL,
            "gear": GEARS[RIGS[self.rig].rig],
            "position_error_m": 8.0,
            "reach_m": 1e5,
        }
        result = run_check(
            [self.track() if track is None else track],
            self.zones() if zones is None else zones,
            CheckSettings(figures=self.figures() if figures is None else figures, **(known | given)),
        )
        return {(row.zone_id, row.tow): row for row in result.rows if row.part is Part.GEAR}


def scenes(**given):
    return st.integers(0, 2**32 - 1).map(lambda seed: Scene(seed, **given))


GENTLE = {"turns_deg": (0.0, 30.0, -50.0, 80.0)}
"""Turns in which no warp hangs slack. Where one does, doors wide apart swing round with a vessel that turns
on the spot, and nodes 10 m apart tell how to half a metre only."""


def clearances(rows):
    return np.array([rows[key].clearance_m for key in sorted(rows)])


# ---------------------------------------------------------------- tiers


@few
@given(scenes(), st.sampled_from(GearProof))
def test_each_tier_holds_the_one_before(scene, proof):
    """The likely corridor holds the nominal one, and so does the rope's reach.

    The likely corridor may reach beyond the rope: its spread aside is not held by the rope, which it need not
    be, for each is asked by itself.
    """
    rows = scene.rows(gear_proof=proof)
    assert rows
    for row in rows.values():
        assert row.gear.rope_clearance_m <= row.clearance_m + 0.01
        if row.gear.likely_clearance_m is not None:
            assert row.gear.likely_clearance_m >= 0.0
            assert row.gear.likely_clearance_m <= max(row.clearance_m, 0.0)


@few
@given(scenes())
def test_three_deviations_leave_no_more_than_two(scene):
    two, three = (scene.rows(gear_proof=proof) for proof in (GearProof.ROPE, GearProof.MODEL))
    for key, row in two.items():
        likely = row.gear.likely_clearance_m, three[key].gear.likely_clearance_m
        if None not in likely:
            assert likely[1] <= likely[0] + 0.06  # nodes of the likely ground are thinned to 5 cm


# ---------------------------------------------------------------- monotony


@few
@given(scenes(), st.sampled_from(GearProof))
def test_more_margin_never_improves_a_row(scene, proof):
    ranks = []
    for margin_m in (0.0, 50.0, 300.0, 1500.0):
        rows = scene.rows(gear_proof=proof, margin_m=margin_m)
        ranks.append([RANK[rows[key].status] for key in sorted(rows)])
    assert (np.diff(ranks, axis=0) >= 0).all()


@few
@given(scenes(), st.sampled_from(GearProof))
def test_more_position_error_never_turns_what_is_open_or_found_into_clear(scene, proof):
    """Inside may become too close, which is a finding as well: less deep than the uncertainty."""
    sure, unsure = (scene.rows(gear_proof=proof, position_error_m=error) for error in (2.0, 60.0))
    for key, row in sure.items():
        if row.status in FINDINGS:
            assert unsure[key].status in FINDINGS
        elif row.status is Status.UNDETERMINED:
            assert unsure[key].status is Status.UNDETERMINED
        assert unsure[key].clearance_m == pytest.approx(row.clearance_m, abs=1e-9)
        assert unsure[key].gear.rope_clearance_m < row.gear.rope_clearance_m


@few
@given(scenes())
def test_an_offset_of_the_block_that_nobody_measured_clears_nothing(scene):
    aft, starboard = scene.figures().block_aft_m, scene.figures().block_starboard_m
    known = replace(scene.figures(), block_aft_m=10.0, block_starboard_m=0.0)
    assumed = replace(known, block_aft_m=None, block_starboard_m=None)  # the same, by default
    assert (aft, starboard) != (None, None)
    measured, guessed = scene.rows(figures=known), scene.rows(figures=assumed)
    for key, row in measured.items():
        assert guessed[key].clearance_m == pytest.approx(row.clearance_m, abs=1e-6)
        assert RANK[guessed[key].status] >= min(RANK[row.status], RANK[Status.TOO_CLOSE])


# ---------------------------------------------------------------- symmetries


@few
@given(scenes())
def test_a_scene_turned_over_has_its_parts_turned_over(scene):
    """The ellipsoid is the same south of the equator as north of it."""
    one = scene.rows()
    other = scene.rows(
        track=scene.track(mirror=True), zones=scene.zones(mirror=True), figures=scene.figures(mirror=True)
    )
    np.testing.assert_allclose(clearances(one), clearances(other), rtol=0, atol=0.005)
    swap = {"port": "starboard", "starboard": "port"}
    for key, row in one.items():
        assert other[key].status is row.status
        mirrored = " ".join(swap.get(word, word) for word in row.gear.nearest_part.split())
        if scene.rig == "beam":
            mirrored = row.gear.nearest_part  # a single beam is called one and the same
        # Where two parts are as near, either may be named.
        if abs(row.clearance_m) > 0.01 and "net" not in (row.gear.nearest_part, other[key].gear.nearest_part):
            assert other[key].gear.nearest_part == mirrored


@few
@given(scenes(), st.sampled_from([90.0, -90.0, 180.0, 47.25]))
def test_where_on_its_parallel_a_scene_is_does_not_matter(scene, east_deg):
    one = scene.rows()
    other = scene.rows(track=scene.track(east_deg=east_deg), zones=scene.zones(east_deg=east_deg))
    np.testing.assert_allclose(clearances(one), clearances(other), rtol=0, atol=0.005)
    assert [one[key].status for key in sorted(one)] == [other[key].status for key in sorted(other)]
    for key, row in one.items():
        likely = row.gear.likely_clearance_m, other[key].gear.likely_clearance_m
        assert (likely[0] is None) == (likely[1] is None)
        if None not in likely:
            assert likely[0] == pytest.approx(likely[1], abs=0.02)


# ---------------------------------------------------------------- cutting and density


@few
@given(scenes(), st.integers(2, 7))
def test_how_many_legs_are_measured_together_does_not_matter(scene, most_legs):
    track = scene.track(step_s=60.0)
    whole = scene.rows(track)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(path_passages, "batches", lambda path: batches.batches(path, most_legs))
        parts = scene.rows(track)
    assert set(whole) == set(parts)
    np.testing.assert_allclose(clearances(whole), clearances(parts), rtol=0, atol=0.005)
    for key, row in whole.items():
        assert (parts[key].status, parts[key].reason) == (row.status, row.reason)
        assert len(parts[key].inside) == len(row.inside)


@few
@given(scenes(**GENTLE), st.floats(0.05, 0.95))
def test_a_rule_that_begins_within_a_tow_changes_nothing_for_other_zones(scene, part):
    """The tow is cut into shares where it begins: no ground may be lost or doubled there, only nodes move."""
    length_m = np.hypot(*np.diff(scene.corners, axis=0).T).sum()
    midnight_s = 18.0 * 3600.0
    track = scene.track(first_s=midnight_s - part * length_m / MPS)
    rules, problems, _ = read_rules({"valid_from": "2026-03-02"})
    assert problems == []
    spot = scene.positions([scene.spots[0] + 40.0])
    starts = zone(points(*spot), ZoneKind.OBSTRUCTION, zone_id="S", rules=rules)
    whole, cut = scene.rows(track), scene.rows(track, [*scene.zones(), starts])
    assert {key for key in cut if key[0] != "S"} == set(whole)
    for key, row in whole.items():
        assert cut[key].clearance_m == pytest.approx(row.clearance_m, abs=0.1)
        assert cut[key].status is row.status
        likely = row.gear.likely_clearance_m, cut[key].gear.likely_clearance_m
        if None not in likely:
            assert likely[1] == pytest.approx(likely[0], abs=0.2)


@few
@given(scenes(**GENTLE), st.sampled_from([10.0, 30.0, 60.0]))
def test_denser_or_sparser_fixes_on_the_same_way_move_clearances_by_centimetres(scene, step_s):
    one, other = (scene.rows(scene.track(step_s=step)) for step in (20.0, step_s))
    np.testing.assert_allclose(clearances(one), clearances(other), rtol=0, atol=0.2)


@few
@given(scenes(**GENTLE), st.integers(0, 2**32 - 1))
def test_fixes_said_twice_move_clearances_by_nothing_to_speak_of(scene, seed):
    track = scene.track()
    rng = np.random.default_rng(seed)
    times = 1 + (rng.random(len(track)) < 0.3)
    seconds = np.repeat((track.time_utc - START) / np.timedelta64(1, "s"), times)
    positions = np.repeat(np.column_stack([track.lon_deg, track.lat_deg]), times, axis=0)
    np.testing.assert_allclose(
        clearances(scene.rows(track)), clearances(scene.rows(fixes(positions, seconds))), rtol=0, atol=0.1
    )


@few
@given(scenes(), st.floats(0.2, 0.8))
def test_a_haul_that_ends_sooner_never_has_the_gear_come_nearer_while_it_surely_towed(scene, part):
    """What is left of a tow cut short lies on the same path: no clearance while towing can be less."""
    track = scene.track()
    last_s = float((track.time_utc[-1] - START) / np.timedelta64(1, "s"))

    def rows(until):
        haul = LoggedHaul(
            haul="1",
            shoot_utc=START,
            haul_utc=START + np.timedelta64(round(until * last_s * 1e6), "us"),
        )
        result = scene.rows(track, towing=Towing.LOG, hauls=(haul,))
        return {key: row for key, row in result.items() if row.status in FINDINGS}

    short, long = rows(part), rows(1.0)
    for key, row in short.items():
        if key in long and str(row.activity) == "towing":
            assert long[key].clearance_m <= row.clearance_m + 0.05
