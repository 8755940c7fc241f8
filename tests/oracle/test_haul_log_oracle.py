"""Trips with a haul log over random scenes, against a plain second reading: what must be said, what may be.

Nothing of `towzone.checks` or `towzone.tows` is used beside the one call that is tested. The track is sampled
every second. A moment within a logged haul is towing. How long shooting and hauling last is known between
limits only, from what the result prints as assumed: so some moments beside a haul are in doubt for certain,
some are surely not towing (longer away than the longest extension, at a speed at which nothing is towed), and
of the others nothing is asked. Where sampling could miss a nearer place, nothing is asked either.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from haul_log_scenes import KNOT_MPS, RUN_KN, Haul, random_trip
from scenes import check

from towzone.checks.settings import Towing
from towzone.model.zone import Prohibition

ERROR_M, GAP_S, TOP_KN = 15.0, 900.0, 12.0
FINDINGS = {"inside", "too_close"}
SURE_M = 0.1
SHOOTING_S, HAULING_S = 600.0, 1200.0
"""README and the assumptions printed: what belongs to a tow before and after it, without much warp."""


def sampled(trip):
    """Samples of the covered legs: time, place, half the way to the next; then fixes alone; and the gaps."""
    t, p = trip.time_s, trip.xy
    lasts = np.diff(t)
    covered = lasts <= GAP_S  # NaN is not
    times, places, halves = [], [], []
    for leg in np.flatnonzero(covered):
        part = np.linspace(0.0, 1.0, int(np.ceil(lasts[leg])) + 1)
        times.append(t[leg] + part * lasts[leg])
        places.append(p[leg] + part[:, None] * (p[leg + 1] - p[leg]))
        halves.append(np.full(len(part), np.hypot(*(p[leg + 1] - p[leg])) / (len(part) - 1) / 2.0))
    alone = np.flatnonzero(~np.append(covered, False) & ~np.append(False, covered))
    times.append(t[alone])
    places.append(p[alone])
    halves.append(np.zeros(len(alone)))
    return *(np.concatenate(c) for c in (times, places, halves)), np.flatnonzero(~covered)


# ---------------------------------------------------------------- what was done


def speed_at(trip, seconds):
    at = np.clip(np.searchsorted(trip.phase_ends_s, seconds, side="right"), 0, len(trip.phase_kn) - 1)
    return trip.phase_kn[at]


def longest(haul):
    warp = haul.warp_m or 0.0
    return max(SHOOTING_S, warp / 2.0 + 300.0), max(HAULING_S, warp + 600.0)


def on_track(trip):
    """The hauls that happened while the track lasted: these are its tows, in order."""
    known = trip.time_s[~np.isnan(trip.time_s)]
    return [h for h in trip.hauls if h.haul_s > known[0] + 1e-5 and h.shoot_s < known[-1] - 1e-5]


def surely_in_doubt(trip, t):
    """Moments so soon before shooting or after hauling, at such speeds, that the gear may have been out."""
    found = np.zeros(len(t), dtype=bool)
    grid = np.arange(np.nanmin(trip.time_s), np.nanmax(trip.time_s) + 1.0)
    kn = speed_at(trip, grid)
    for number, haul in enumerate(trip.hauls):
        shooting_s, hauling_s = longest(haul)
        after = trip.hauls[number - 1].haul_s if number else -np.inf
        before = trip.hauls[number + 1].shoot_s if number + 1 < len(trip.hauls) else np.inf
        unlike = grid[(grid < haul.shoot_s + 90.0) & ((kn > 6.5) | (kn < 0.8))]
        low = max([haul.shoot_s - shooting_s + 1.0, after, *(unlike[-1:] + 90.0 + trip.step_s)])
        found |= (t > low) & (t < haul.shoot_s)
        unlike = grid[(grid > haul.haul_s - 90.0) & (kn > 4.0)]
        high = min([haul.haul_s + hauling_s - 1.0, before, *(unlike[:1] - 90.0 - trip.step_s)])
        found |= (t > haul.haul_s) & (t < high)
    return found


def surely_not_towing(trip, t):
    """Moments far from every haul, while running or lying still for so long that nothing looks like a tow."""
    slack_s = 2.0 * trip.step_s + 25.0
    far = ~np.isnan(t)
    begins_s = np.concatenate([[np.nanmin(trip.time_s)], trip.phase_ends_s[:-1]])
    phases = list(zip(begins_s, trip.phase_ends_s, trip.phase_kn, strict=True))
    # What is seen to be a tow, though it is not logged, has its shooting and hauling, too.
    seen = [Haul(shoot_s=a, haul_s=b, warp_m=None) for a, b, kn in phases if kn not in (0.0, 1.0, RUN_KN)]
    for haul in (*trip.hauls, *seen):
        shooting_s, hauling_s = longest(haul)
        far &= (t < haul.shoot_s - shooting_s - slack_s) | (t > haul.haul_s + hauling_s + slack_s)
    idle = np.zeros(len(t), dtype=bool)
    for begin, end, kn in phases:
        if kn in (0.0, RUN_KN) and end - begin > 700.0:
            idle |= (t > begin + 150.0 + 2.0 * trip.step_s) & (t < end - 150.0 - 2.0 * trip.step_s)
    return far & idle


# ---------------------------------------------------------------- where it was


def from_segments(p, corners, closed):
    ends = np.roll(corners, -1, axis=0) if closed else corners[1:]
    nearest = np.full(len(p), np.inf)
    for a, b in zip(corners, ends, strict=False):
        along = np.clip(((p - a) @ (b - a)) / max((b - a) @ (b - a), 1e-9), 0.0, 1.0)
        nearest = np.minimum(nearest, np.hypot(*(p - a - along[:, None] * (b - a)).T))
    return nearest


def holds(corners, p):
    crossings = np.zeros(len(p), dtype=int)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        over = (a[0] > p[:, 0]) != (b[0] > p[:, 0])
        with np.errstate(divide="ignore", invalid="ignore"):
            crossings += over & (a[1] + (p[:, 0] - a[0]) * (b[1] - a[1]) / (b[0] - a[0]) > p[:, 1])
    return crossings % 2 == 1


def clearance(ground, p):
    """Metres from where the prohibition applies, negative in it."""
    if ground.kind == "point":
        return np.min([np.hypot(*(p - c).T) for c in ground.corners], axis=0) - ground.radius_m
    away = from_segments(p, ground.corners, ground.kind == "area")
    if ground.kind == "area":
        away = np.where(holds(ground.corners, p), -away, away)
    return -away if ground.turned else away - ground.radius_m


def gap_reach(trip, ground, leg):
    """Whether the ground surely could, and whether it perhaps could, be reached in a gap."""
    a, b = trip.xy[leg], trip.xy[leg + 1]
    lasts = trip.time_s[leg + 1] - trip.time_s[leg]
    if np.isnan(lasts):
        # Without a day nothing is known of when it was, but on which side of the known times.
        known = trip.time_s[~np.isnan(trip.time_s)]
        head = np.isnan(trip.time_s[: leg + 1]).all()
        span = (-np.inf, known[0]) if head else (known[-1], np.inf)
        return overlaps(ground, *span), ground.covered is not False
    wide = ground.radius_m + ground.margin_m
    sailed = max(TOP_KN * KNOT_MPS * lasts, float(np.hypot(*(b - a))))
    q = boundary(ground)
    ways = [way(q, a, b)]
    for aim in (a, b, (a + b) / 2.0):
        to = aim - q
        far = np.hypot(*to.T)[:, None]
        ways.append(way(q + to * np.minimum(wide / np.maximum(far, 1e-9), 1.0), a, b))
    inside = bool((clearance(ground, np.array([a, b])) < -SURE_M).any())
    begin, end = trip.time_s[[leg, leg + 1]]
    if not overlaps(ground, begin, end):
        return False, False
    surely = inside or min(ways) < sailed - 1.0
    perhaps = surely or (clearance(ground, np.array([a, b])) < SURE_M).any()
    perhaps |= ways[0] - 12.0 < sailed + 2.0 * ERROR_M + 2.0 * wide
    return surely, bool(perhaps)


def boundary(ground):
    corners = ground.corners
    if ground.kind == "point":
        return corners
    ends = np.roll(corners, -1, axis=0) if ground.kind == "area" else corners[1:]
    sides = zip(corners, ends, strict=False)
    return np.concatenate(
        [a + np.linspace(0.0, 1.0, int(np.hypot(*(b - a)) / 5.0) + 2)[:, None] * (b - a) for a, b in sides]
    )


def way(q, a, b):
    return float((np.hypot(*(q - a).T) + np.hypot(*(q - b).T)).min())


# ---------------------------------------------------------------- what is to be said


def compared(trip, rows, ground):
    """Every disagreement of the rows of one zone with the plain reading, in words; and what was asked."""
    t, p, half, gaps = sampled(trip)
    clear_m = clearance(ground, p)
    in_force = np.isnan(t) | ((t >= ground.from_s) & (t < ground.until_s))
    # Within a second of a change, and where the gear leaves it open, a rule only may hold.
    edge = (np.abs(t - ground.from_s) < 1.0) | (np.abs(t - ground.until_s) < 1.0)
    told = ~np.isnan(t) & ~edge
    held = told & in_force & (ground.covered is True)
    may_hold = (in_force | edge) & (ground.covered is not False)
    entry = Prohibition.ENTRY in ground.prohibits and ground.transit_kn is None
    limit = ground.margin_m
    deep, near = clear_m < -ERROR_M - SURE_M, clear_m < limit - SURE_M
    within = clear_m < limit + ERROR_M - SURE_M
    perhaps_near = clear_m - half < limit + 0.005 + SURE_M
    perhaps_within = clear_m - half < max(limit, 0.005) + ERROR_M + SURE_M
    doubt, idle = surely_in_doubt(trip, t), surely_not_towing(trip, t)
    statuses = {row.status.value for row in rows}
    found, opened = bool(statuses & FINDINGS), "undetermined" in statuses
    wrong, asked = [], set()

    def must(said, when, what):
        if when:
            asked.add(what)
            if not said:
                wrong.append(what)

    any_tow, perhaps_tow = np.zeros(len(t), dtype=bool), np.isnan(t)
    for number, haul in enumerate(on_track(trip), start=1):
        mine = (t >= haul.shoot_s) & (t <= haul.haul_s)
        any_tow |= mine
        perhaps_tow |= (t > haul.shoot_s - 1.0) & (t < haul.haul_s + 1.0)
        own = {row.status.value for row in rows if row.tow == number}
        must("inside" in own, (mine & held & deep).any(), "inside while towing")
        must(own & FINDINGS, (mine & held & near).any(), "near while towing")
        must(own & {*FINDINGS, "undetermined"}, (mine & held & within).any(), "within the error while towing")
        idle_rule = mine & told & ~in_force & near
        must("not_in_force" in own, idle_rule.any(), "near while the rule did not hold")
    counts = entry | any_tow | doubt
    must(found, (held & near & (entry | any_tow)).any(), "a finding")
    must(found or opened, (told & may_hold & ~edge & within & counts).any(), "not clear")
    crossing = idle & held & (clear_m < -SURE_M)
    plain = not entry and ground.transit_kn is None and not ground.turned
    must("transit" in statuses, (crossing & plain).any(), "a transit")
    if ground.transit_kn is not None:
        slow = held & deep & ~any_tow & (doubt | idle) & lasting_slow(trip, t, held & deep, ground.transit_kn)
        must(found, slow.any(), "a slow crossing")
    passing = ground.transit_kn is not None and (may_hold & (clear_m - half < ERROR_M + SURE_M)).any()
    may_find = (may_hold & perhaps_near & (entry | perhaps_tow)).any() and ground.covered is True
    may_find |= passing and ground.covered is True
    must(not found, not may_find, "no finding")
    open_ = [gap_reach(trip, ground, leg) for leg in gaps]
    must(found or opened, any(surely for surely, _ in open_), "open by a gap")
    may_open = any(perhaps for _, perhaps in open_) or passing
    may_open |= bool((may_hold & perhaps_within & (entry | ~idle)).any())
    must(not opened, not may_open, "not open")
    must(not statuses & {*FINDINGS, "undetermined"}, not may_open and not may_find, "clear")
    return wrong, asked


def overlaps(ground, begin, end):
    return ground.covered is not False and end >= ground.from_s and begin < ground.until_s


def lasting_slow(trip, t, which, limit_kn):
    """Moments in the middle of five minutes all inside and all slower than a limit."""
    order = np.argsort(t, kind="stable")
    good = (which & (speed_at(trip, t) < limit_kn - 0.5))[order]
    ends = np.flatnonzero(np.diff(np.concatenate([[0], good.astype(int), [0]])))
    found = np.zeros(len(t), dtype=bool)
    for first, last in zip(ends[0::2], ends[1::2] - 1, strict=True):
        when = t[order[first : last + 1]]
        if when[-1] - when[0] > 400.0 and np.diff(when).max() < 130.0:
            found[order[first : last + 1]] = (when > when[0] + 200.0) & (when < when[-1] - 200.0)
    return found


def disagreements(seed, number):
    trip = random_trip(np.random.default_rng([seed, number]))
    result = check(
        trip.track,
        [ground.zone for ground in trip.grounds],
        towing=Towing.LOG,
        hauls=tuple(haul.logged(n) for n, haul in enumerate(trip.hauls)),
        gear=trip.gear,
        reach_m=1e6,
    )
    wrong, asked = [], set()
    for ground in trip.grounds:
        rows = [row for row in result.rows if row.zone_id == ground.zone.zone_id]
        some, more = compared(trip, rows, ground)
        said = [(row.tow, row.status.value, row.reason) for row in rows]
        wrong += [f"seed [{seed}, {number}] {ground.zone.zone_id}: {what}; said {said}" for what in some]
        asked |= more
    return wrong, asked


EVERYTHING = {
    "inside while towing",
    "near while towing",
    "within the error while towing",
    "near while the rule did not hold",
    "a finding",
    "not clear",
    "a transit",
    "a slow crossing",
    "no finding",
    "open by a gap",
    "not open",
    "clear",
}


@cache
def batch_of_scenes(batch):
    wrong, asked = [], set()
    for number in range(60):
        some, more = disagreements(20261125 + batch, number)
        wrong += some
        asked |= more
    return wrong, asked


@pytest.mark.parametrize("batch", range(4))
def test_trips_with_a_haul_log_are_judged_as_a_plain_reading_judges_them(batch):
    wrong, _ = batch_of_scenes(batch)
    assert not wrong, "\n".join(wrong)


def test_the_scenes_ask_for_everything_that_can_be_asked():
    assert set().union(*(batch_of_scenes(batch)[1] for batch in range(4))) == EVERYTHING
