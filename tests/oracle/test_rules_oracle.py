"""Rules in force over random small scenes, against a plain second reading of README: samples and days.

Nothing of towzone's geometry, calendar or gear logic is used. Scenes are small, so that in pyproj's azimuthal
equidistant projection about their middle straight lines are geodesics to 1 mm and distances true to 5 mm;
the track is sampled at least every 2 seconds and again where a rule changes; whether a rule holds is read off
the local calendar day of each sample.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from pyproj import Proj
from scenes import KNOT_MPS, LineKind, area, check, fixes, moved, zone

from towzone.checks.settings import Towing
from towzone.model.rules import Rules, Window
from towzone.model.track import TrackKind
from towzone.model.zone import Prohibition

MIDDLE = (-20.0, 57.0)
PLANE = Proj(proj="aeqd", lon_0=MIDDLE[0], lat_0=MIDDLE[1], ellps="WGS84")
ERROR_M, GAP_S, TOP_KN = 15.0, 900.0, 12.0
FINDINGS = {"inside", "too_close"}
ORDER = ["inside", "too_close", "undetermined", "transit", "not_in_force", "clear"]
SURE_M = 0.05
"""Scenes nearer than this to where a status changes may come out either way."""

COVERED = {
    None: None,
    "OTB": {"OTB", "TB", "TX"},
    "OTM": {"OTM", "TM", "TX"},
    "DRB": {"DRB", "DRX"},
}
"""The words of a list that take in each gear, written out."""


@dataclass(frozen=True)
class Scene:
    """What is checked, and the same in plain numbers."""

    track: object
    zone: object
    gear: str | None
    on: date | None
    towing: bool
    speed_kn: float


# ---------------------------------------------------------------- random scenes


def random_scene(rng):
    speed_kn = float(rng.choice([3.0, 9.0]))
    planned = rng.random() < 0.2
    towing = planned or rng.random() < 0.6
    return Scene(
        track=random_track(rng, speed_kn, planned),
        zone=random_zone(rng),
        gear=["OTB", "OTB", "OTM", "DRB", None][rng.integers(5)],
        on=[None, date(2026, 3, 1), date(2026, 3, 2), date(2026, 6, 1)][rng.integers(4)],
        towing=towing,
        speed_kn=speed_kn,
    )


def random_track(rng, speed_kn, planned):
    """Straight legs of more than five minutes, with steps of 2 minutes, now and then a gap, times lost."""
    first_s = float(rng.choice([0.0, 17.0, 17.9, 18.0, 40.0, 680.0])) * 3600.0
    at, azimuth = moved(MIDDLE, rng.uniform(0, 360), rng.uniform(0, 5000)), rng.uniform(0, 360)
    places, times = [at], [first_s]
    for _ in range(int(rng.integers(0, 5))):
        azimuth += rng.uniform(-100, 100)
        for _ in range(int(rng.integers(3, 9))):
            step_s = 120.0 if rng.random() < 0.85 else float(rng.choice([1800.0, 7200.0]))
            at = moved(at, azimuth, speed_kn * KNOT_MPS * min(step_s, 600.0))
            places.append(at)
            times.append(times[-1] + step_s)
    if rng.random() < 0.3:  # a fix falls on midnight of 2 March UTC, or of London's, exactly
        times = list(np.array(times) - times[int(rng.integers(len(times)))] + 18 * 3600.0)
    lost = rng.random()
    if lost < 0.2:
        times[: int(rng.integers(1, 3))] = [None] * min(len(times), 2)
        times = times[: len(places)]
    elif lost < 0.4:
        times[-1] = None
    elif lost < 0.55:
        times = [t if rng.random() < 0.8 else None for t in times]
    elif lost < 0.65:
        times = [None] * len(times)
    return fixes(places, times, kind=TrackKind.PLANNED if planned else TrackKind.COMPLETED)


def random_zone(rng):
    n = int(rng.integers(3, 8))
    size = 10.0 ** rng.uniform(2.3, 3.8)
    centre = moved(MIDDLE, rng.uniform(0, 360), rng.uniform(0, 4000))
    turn = rng.uniform(0, 360)
    ring = [moved(centre, turn + 360.0 * k / n, size * rng.uniform(0.6, 1.0)) for k in range(n)]
    rings = [ring]
    if rng.random() < 0.25:
        rings.append([moved(centre, 120.0 * k, 0.2 * size) for k in range(3)])
    turned = rng.random() < 0.25
    prohibits = [(Prohibition.FISHING,), (Prohibition.ENTRY,), (Prohibition.BOTTOM_CONTACT,)][rng.integers(3)]
    return zone(
        area(*rings),
        edges=LineKind.GEODESIC,
        prohibits=prohibits,
        margin_m=float(rng.choice([0.0, 0.0, 200.0])),
        radius_m=0.0 if turned else float(rng.choice([0.0, 0.0, 300.0])),
        datum_accuracy_m=float(rng.choice([0.0, 3.0])),
        rules=random_rules(rng, turned),
    )


def random_rules(rng, turned):
    seasons = [
        (),
        (),
        (Window(from_month=3, from_day=2, to_month=5, to_day=31),),
        (Window(from_month=10, from_day=1, to_month=3, to_day=1),),
        (
            Window(from_month=1, from_day=1, to_month=3, to_day=1),
            Window(from_month=3, from_day=29, to_month=3, to_day=29),
        ),
        (Window(from_month=8, from_day=1, to_month=8, to_day=2),),
    ]
    moments = [None, None, None, datetime(2026, 3, 1, 7, tzinfo=UTC), datetime(2026, 3, 2, tzinfo=UTC)]
    lists = [(), (), (), (), ("TB",), ("OTB", "DRX"), ("TM",)]
    return Rules(
        season=seasons[rng.integers(len(seasons))],
        valid_from=moments[rng.integers(len(moments))],
        valid_until=[None, None, datetime(2026, 3, 29, 2, tzinfo=UTC)][rng.integers(3)],
        time_zone=str(rng.choice(["UTC", "Europe/London", "America/Halifax", "Pacific/Auckland"])),
        gears=lists[rng.integers(len(lists))],
        except_gears=lists[rng.integers(len(lists))] if rng.random() < 0.3 else (),
        transit_min_speed_kn=[None, None, 6.0][rng.integers(3)],
        allowed_only_inside=turned,
    )


# ---------------------------------------------------------------- whether a rule holds


def holds_at(rules, second):
    """Whether a rule holds at a second since 1970, by the local calendar day."""
    at = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=second)
    if rules.valid_from is not None and at < rules.valid_from:
        return False
    if rules.valid_until is not None and at >= rules.valid_until:
        return False
    local = at.astimezone(ZoneInfo(rules.time_zone))
    today = local.month, local.day
    in_season = not rules.season
    for window in rules.season:
        first, last = (window.from_month, window.from_day), (window.to_month, window.to_day)
        in_season |= first <= today <= last if first <= last else today >= first or today <= last
    return in_season


def states_between(rules, first, last):
    """Whether a rule holds, at every 5 minutes and shortly before and at the ends."""
    return {holds_at(rules, s) for s in [*np.arange(first, last, 300.0), max(first, last - 1e-3)]}


def day_of(rules, on):
    ends = [
        datetime(d.year, d.month, d.day, tzinfo=ZoneInfo(rules.time_zone))
        for d in (on, on + timedelta(days=1))
    ]
    return [end.timestamp() for end in ends]


def dated_state(scene):
    """What is known of a rule where there are no times: True, False or None."""
    rules = scene.zone.rules
    if not rules.season and rules.valid_from is None and rules.valid_until is None:
        return True
    if scene.on is None:
        return None
    states = states_between(rules, *day_of(rules, scene.on))
    return states.pop() if len(states) == 1 else None


def gear_state(scene):
    """Whether the rule covers the gear; None where that is not known."""
    rules, names = scene.zone.rules, COVERED[scene.gear]
    if names is None:
        return None if rules.gears or rules.except_gears else True
    if scene.zone.prohibits == (Prohibition.BOTTOM_CONTACT,) and scene.gear == "OTM":
        return False
    listed = not rules.gears or bool(names & set(rules.gears))
    return listed and not names & set(rules.except_gears)


def standing(scene, dated):
    geared = gear_state(scene)
    if dated is False:
        return "idle", "season"
    if geared is False:
        return "idle", "gear"
    if dated is None:
        return "doubt", "date_unknown"
    return ("holds", "") if geared else ("doubt", "gear_unknown")


# ---------------------------------------------------------------- where the vessel was


def flat(lon, lat):
    return np.column_stack(PLANE(np.asarray(lon, float), np.asarray(lat, float)))


def signed(target, p):
    """Clearance of flat positions from a zone, metres, negative where they should not be."""
    rings = [flat(ring[:, 0], ring[:, 1]) for ring in target.shape.polygons[0]]
    nearest, crossings = np.full(len(p), np.inf), np.zeros(len(p), int)
    for ring in rings:
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            t = np.clip(((p - a) @ (b - a)) / ((b - a) @ (b - a)), 0.0, 1.0)
            nearest = np.minimum(nearest, np.hypot(*(p - a - t[:, None] * (b - a)).T))
            over = (a[0] > p[:, 0]) != (b[0] > p[:, 0])
            with np.errstate(divide="ignore", invalid="ignore"):
                height = a[1] + (p[:, 0] - a[0]) * (b[1] - a[1]) / (b[0] - a[0])
            crossings += over & (height > p[:, 1])
    out = np.where(crossings % 2 == 1, -nearest, nearest) - target.radius_m
    return -out if target.rules.allowed_only_inside else out


@dataclass
class Samples:
    """Samples of one kind of standing: least clearance on legs, and of fixes alone among gaps."""

    legs: float
    alone: float
    whys: set[str]

    @property
    def clearance(self):
        return min(self.legs, self.alone)


def times_of(track):
    """Seconds since 1970 with the unknown ones between known ones filled by distance, and the known ones."""
    known = track.time_utc.astype("datetime64[us]").astype(np.int64) / 1e6
    known[np.isnat(track.time_utc)] = np.nan
    p = flat(track.lon_deg, track.lat_deg)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(p, axis=0).T) + 1e-6)])
    timed = np.flatnonzero(~np.isnan(known))
    filled = known.copy()
    if len(timed):
        filled = np.interp(way, way[timed], known[timed])
        filled[: timed[0]] = filled[timed[-1] + 1 :] = np.nan
    return known, filled


def around(known, leg):
    """Known times nearest before and after a leg."""
    before, after = known[: leg + 1], known[leg + 1 :]
    return [*before[~np.isnan(before)][-1:], *after[~np.isnan(after)][:1]]


def covered_legs(track, known):
    n = len(track) - 1
    if track.kind is TrackKind.PLANNED:
        return np.ones(n, bool)
    pairs = [around(known, leg) for leg in range(n)]
    return np.array([len(pair) == 2 and pair[1] - pair[0] <= GAP_S for pair in pairs], bool)


def stands(scene, second):
    dated = dated_state(scene) if np.isnan(second) else holds_at(scene.zone.rules, float(second))
    return standing(scene, dated)


def samples_of(scene):
    """The least clearance by standing; each leg searched for changes of the rule, then for the least."""
    track = scene.track
    known, filled = times_of(track)
    covered = covered_legs(track, known)
    p = flat(track.lon_deg, track.lat_deg)
    found = {}

    def take(state, clearance, *, alone):
        kept = found.setdefault(state[0], Samples(np.inf, np.inf, set()))
        kept.whys.add(state[1])
        if alone:
            kept.alone = min(kept.alone, clearance)
        else:
            kept.legs = min(kept.legs, clearance)

    for leg in np.flatnonzero(covered):
        for low, high, state in spans_of(scene, filled[leg], filled[leg + 1]):
            take(state, least_between(scene.zone, p[leg], p[leg + 1], low, high), alone=False)
    for fix in range(len(track)):
        if not covered[max(fix - 1, 0) : fix + 1].any():
            take(stands(scene, filled[fix]), float(signed(scene.zone, p[fix : fix + 1])[0]), alone=True)
    return found, known, covered, p


def spans_of(scene, first, last):
    """Stretches of a leg (fractions) with one standing each."""
    if np.isnan(first) or np.isnan(last):
        return [(0.0, 1.0, stands(scene, np.nan))]
    u = np.linspace(0.0, 1.0, 61)
    held = [holds_at(scene.zone.rules, float(first + x * (last - first))) for x in u]
    cuts = [0.0]
    for k in np.flatnonzero(np.diff(np.array(held, int))):
        low, high = u[k], u[k + 1]
        for _ in range(40):
            middle = (low + high) / 2
            same = holds_at(scene.zone.rules, float(first + middle * (last - first))) == held[k]
            low, high = (middle, high) if same else (low, middle)
        cuts.append(high)
    cuts = np.unique([*cuts, 1.0])
    pairs = [(a, b) for a, b in itertools.pairwise(cuts) if b - a > 1e-6]
    return [(a, b, stands(scene, first + (a + b) / 2 * (last - first))) for a, b in pairs]


def least_between(target, a, b, low, high):
    """Least clearance on part of a leg: samples every 2 seconds or so, the best few refined to 1 mm."""
    u = np.linspace(low, high, 65)
    step = u[1] - u[0]
    best = np.inf
    for _ in range(4):
        c = signed(target, a + u[:, None] * (b - a))
        best = min(best, float(c.min()))
        top = u[np.argsort(c)[:4]]
        u = np.clip((top[:, None] + np.linspace(-step, step, 33)).ravel(), low, high)
        step /= 16.0
    return best


def open_gaps(scene, known, covered, p):
    """Reasons of the gaps that leave the zone open, and how near (m) the nearest is to being so or not."""
    reasons, sure = set(), np.inf
    target = scene.zone
    harmless = Prohibition.ENTRY not in target.prohibits and target.rules.transit_min_speed_kn is None
    if not scene.towing and harmless:
        return reasons, sure
    for leg in np.flatnonzero(~covered):
        near = around(known, leg)
        if gap_state(scene, near) == "idle":
            continue
        if len(near) < 2:
            reasons.add("missing_times")
            continue
        spare = gap_spare(target, p[leg], p[leg + 1], near[1] - near[0])
        sure = min(sure, abs(spare) - 1.0)
        if spare >= 0.0:
            reasons.add("gap")
    return reasons, sure


def gap_state(scene, near):
    rules = scene.zone.rules
    if len(near) == 2:
        dated = True in states_between(rules, *near)
    elif near and scene.on is not None:
        ends = sorted([*near, *day_of(rules, scene.on)])
        dated = True in states_between(rules, ends[0], ends[-1])
    else:
        dated = dated_state(scene)
    return standing(scene, dated)[0]


def gap_spare(target, a, b, seconds):
    """How much longer the longest way is than the shortest over the zone, metres; infinite from inside."""
    ends = signed(replace(target, radius_m=0.0), np.array([a, b]))
    if (ends < 0.0).any():
        return np.inf
    way = np.inf
    for ring in target.shape.polygons[0]:
        corners = flat(ring[:, 0], ring[:, 1])
        for c, d in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            q = c + np.linspace(0.0, 1.0, int(np.hypot(*(d - c)) / 10.0) + 2)[:, None] * (d - c)
            way = min(way, float((np.hypot(*(q - a).T) + np.hypot(*(q - b).T)).min()))
    budget = max(TOP_KN * KNOT_MPS * seconds, np.hypot(*(b - a))) + 2.0 * ERROR_M
    return budget + 2.0 * (target.radius_m + target.margin_m + target.datum_accuracy_m) - way


# ---------------------------------------------------------------- what is to be said


def judged(scene, some, gaps):
    """The verdict on samples under a rule that holds, by README."""
    target, rules = scene.zone, scene.zone.rules
    u, c = ERROR_M + target.datum_accuracy_m, some.clearance if some else np.inf
    limit = rules.transit_min_speed_kn
    if not scene.towing and (limit is not None or Prohibition.ENTRY not in target.prohibits):
        if limit is None:
            return ("transit", "not_towing") if c < 0.005 and not rules.allowed_only_inside else ("clear", "")
        if some is not None and scene.speed_kn < limit and some.legs < u:
            return ("inside", "slow_transit") if some.legs < -u else ("undetermined", "position_error")
        if some is not None and some.alone < u:
            return "undetermined", "missing_times"
        return ("transit", "kept_speed") if c < 0.005 else ("clear", "")
    if c < -u:
        if rules.allowed_only_inside:
            return "inside", "outside_allowed_area"
        entry = not scene.towing or target.prohibits == (Prohibition.ENTRY,)
        return "inside", "entry" if entry else "fishing_inside"
    if c < max(target.margin_m, 0.005):
        return "too_close", "touched" if c < 0.005 else "under_margin"
    if c < target.margin_m + u:
        return "undetermined", "position_error"
    return ("undetermined", "missing_times" if "missing_times" in gaps else "gap") if gaps else ("clear", "")


def wanted(scene):
    """The (status, reason) of all rows but clear ones, the clearances by standing, and how sure it is."""
    found, known, covered, p = samples_of(scene)
    gaps, sure = open_gaps(scene, known, covered, p)
    target = scene.zone
    u = ERROR_M + target.datum_accuracy_m
    limits = np.array([-u, 0.0, 0.005, u, target.margin_m, target.margin_m + u])
    for some in found.values():
        for c in (some.legs, some.alone):
            if np.isfinite(c):
                sure = min(sure, float(np.abs(c - limits).min()) - SURE_M)
    own = gaps if scene.towing else set()
    says = set()
    held, doubt, idle = (found.get(name) for name in ("holds", "doubt", "idle"))
    verdicts = [judged(scene, held, own)]
    if doubt is not None:
        what = judged(scene, doubt, own)
        verdicts.append(("undetermined", min(doubt.whys)) if what[0] in {*FINDINGS, "undetermined"} else what)
    if verdicts[0][0] in FINDINGS:
        says.add(verdicts[0])
        says |= {v for v in verdicts[1:] if v[0] == "undetermined"}
    else:
        says.add(min(verdicts, key=lambda v: ORDER.index(v[0])))
    if gaps and not scene.towing:
        says.add(("undetermined", "missing_times" if "missing_times" in gaps else "gap"))
    applies = scene.towing or (
        Prohibition.ENTRY in target.prohibits and target.rules.transit_min_speed_kn is None
    )
    if idle is not None and idle.clearance < (max(target.margin_m, 0.005) if applies else 0.0):
        says.add(("not_in_force", min(idle.whys)))
    return {v for v in says if v[0] != "clear"}, found, sure


@pytest.mark.parametrize("batch", range(8))
def test_random_rules_are_judged_as_their_plain_reading_judges_them(batch):
    rng = np.random.default_rng([20260301, batch])
    compared, seen = 0, set()
    for number in range(60):
        scene = random_scene(rng)
        result = check(
            scene.track,
            scene.zone,
            reach_m=1e6,
            gear=scene.gear,
            on=scene.on,
            legs=LineKind.GEODESIC,
            towing=Towing.ALL if scene.towing else Towing.NONE,
        )
        says, found, sure = wanted(scene)
        if sure <= 0.0 or any(len(some.whys) > 1 for some in found.values()):
            continue
        rows = [row for row in result.rows if row.status.value != "clear"]
        where = (
            f"batch {batch} scene {number}: {scene.zone.rules} {scene.zone.prohibits} towing {scene.towing}"
        )
        assert {(row.status.value, row.reason) for row in rows} == says, where
        assert (result.outcome.value == "clear") == (
            not any(s in {*FINDINGS, "undetermined"} for s, _ in says)
        )
        compared += 1
        seen |= says
        for row in rows:
            kind = "holds" if row.status.value in FINDINGS else "idle"
            if row.status.value in {*FINDINGS, "not_in_force"}:
                np.testing.assert_allclose(
                    row.clearance_m, found[kind].clearance, rtol=0, atol=0.01, err_msg=where
                )
    assert compared >= 45
    assert len(seen) >= 7, seen
