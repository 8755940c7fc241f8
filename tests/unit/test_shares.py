"""A path cut into units and shares, all at once, against each stretch looked at by itself."""

from __future__ import annotations

import numpy as np

from towzone.checks.activity import CANNOT_TELL, NOT_TOWING, TOWING, Doing, TowSpan
from towzone.checks.intervals import merged
from towzone.checks.shares import Unit, shares_of, units_of
from towzone.model.result import Activity

SEED = 20261126


def some_stretches(rng, count, until):
    """Stretches between whole and half places, some of a single one."""
    ends = np.sort(rng.choice(np.arange(0.0, until, 0.5), 2 * count, replace=False)).reshape(-1, 2)
    last = np.where(rng.random(count) < 0.3, ends[:, 0], ends[:, 1])
    return merged(ends[:, 0], last)


def plain(stretches):
    return list(zip(stretches.first.tolist(), stretches.last.tolist(), strict=True))


def cut(rows, low, high, lone):
    """What of stretches lies between two places: no end that only touches, and some of the lone ones."""
    kept = [(max(a, low), min(b, high)) for a, b in rows if a < b and max(a, low) < min(b, high)]
    return sorted([*kept, *((at, at) for at in lone)])


def lone_of(rows):
    return [a for a, b in rows if a == b]


def test_shares_are_cut_where_rules_change():
    """A lone fix on a cut belongs to what follows, but to what has times at the last fix with one."""
    rng = np.random.default_rng(SEED)
    seen = set()
    for _ in range(300):
        time_s = np.arange(40.0) * 10.0
        head, tail = int(rng.choice([0, 0, 3])), int(rng.choice([39, 39, 36]))
        time_s[:head], time_s[tail + 1 :] = np.nan, np.nan
        changes = rng.choice(np.arange(0.0, 400.0, 5.0), int(rng.integers(0, 5)))
        covered = [some_stretches(rng, int(rng.integers(1, 8)), 39.0) for _ in range(3)]
        units = [
            Unit(None, ((Activity.UNKNOWN, covered[0]), (Activity.TOWING, merged([], [])))),
            Unit(None, ((Activity.TOWING, covered[1]), (Activity.UNKNOWN, covered[2]))),
        ]
        inner = sorted({at / 10.0 for at in changes.tolist() if head * 10.0 < at <= tail * 10.0})
        bounds = [float(head)] * (head > 0) + inner
        ends = [*bounds, float(tail)] if tail < 39 else bounds
        expected = []
        for unit, activity, stretches in (
            (0, Activity.UNKNOWN, covered[0]),
            (1, Activity.TOWING, covered[1]),
            (1, Activity.UNKNOWN, covered[2]),
        ):
            for n, (low, high) in enumerate(zip([-np.inf, *ends], [*ends, np.inf], strict=True)):
                rows = plain(stretches)
                shares = {
                    at: sum(at >= b for b in bounds) + (tail < 39 and at > tail) for at in lone_of(rows)
                }
                share = cut(rows, low, high, [at for at, number in shares.items() if number == n])
                expected += [(unit, activity, share)] if share else []
        found = shares_of(units, time_s, changes.tolist())
        assert [(g.unit, g.activity, plain(g.covered)) for g in found] == expected
        for group in found:
            times = [
                np.interp(at, np.arange(40.0), time_s)
                for at in (group.covered.first[0], group.covered.last[-1])
            ]
            np.testing.assert_array_equal([group.first_s, group.last_s], times)
        seen.add(len(found) > 3)
    assert seen == {True, False}


def test_what_is_covered_of_tows_is_shot_towed_and_hauled():
    rng = np.random.default_rng(SEED + 1)
    for _ in range(200):
        legs = 40
        covered = rng.random(legs) < rng.choice([0.5, 0.9, 1.0])
        places = np.sort(rng.choice(np.arange(0.0, legs + 0.5, 0.5), 8, replace=False)).reshape(2, 4)
        spans = tuple(
            TowSpan(first=int(a), last=int(np.ceil(d)), shoot=float(b), haul=float(c), basis="all")
            for a, b, c, d in places.tolist()
        )
        tow = np.full(legs, -1)
        for number, span in enumerate(spans):
            tow[span.first : span.last] = number
        leg = np.where(tow >= 0, TOWING, rng.choice([CANNOT_TELL, NOT_TOWING], legs)).astype(np.int8)
        rows = plain(merged(np.flatnonzero(covered), np.flatnonzero(covered) + 1.0))
        rows += [
            (float(at), float(at)) for at in range(legs + 1) if not covered[max(at - 1, 0) : at + 1].any()
        ]
        units = units_of(covered, Doing(leg=leg, tow=tow, tows=spans), [None, None])
        for span, unit in zip(spans, units, strict=False):
            bounds = [
                (Activity.UNKNOWN, float(span.first), span.shoot),
                (Activity.TOWING, span.shoot, span.haul),
                (Activity.UNKNOWN, span.haul, float(span.last)),
            ]
            expected = [
                (activity, cut(rows, low, high, [at for at in lone_of(rows) if low <= at <= high]))
                for activity, low, high in bounds
                if low < high or activity is Activity.TOWING
            ]
            assert [(activity, plain(own)) for activity, own in unit.parts] == expected
