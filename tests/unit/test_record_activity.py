"""Each stretch of a track is drawn as what the check took the vessel to have done there."""

from __future__ import annotations

import numpy as np
import pytest

from towzone.model.result import Doubt, Tow
from towzone.record.drawn.activity import Doing, stretches_of

NEVER = np.datetime64("NaT", "us")


def tow(first: int, shoot: float, haul: float, last: int, number: int = 1) -> Tow:
    return Tow(
        track_id="t",
        number=number,
        first=first,
        last=last,
        shoot=shoot,
        haul=haul,
        shoot_utc=NEVER,
        haul_utc=NEVER,
        seconds=None,
        length_m=0.0,
        mean_speed_kn=None,
        basis="detected",
    )


def doubt(first: int, last: int) -> Doubt:
    return Doubt(track_id="t", first=first, last=last, from_utc=NEVER, to_utc=NEVER, seconds=None)


def told(fixes: int, gaps: list[int], tows: list[Tow], doubts: list[Doubt], **more: Doing) -> list[tuple]:
    elsewhere = more.get("elsewhere", Doing.NOT_TOWING)
    found = stretches_of(fixes, gaps, tows, doubts, elsewhere=elsewhere)
    return [(s.first, s.last, str(s.activity), s.tow) for s in found]


def test_a_tow_is_shot_towed_and_hauled() -> None:
    assert told(20, [], [tow(3, 5.0, 12.0, 15)], []) == [
        (0, 3, "not_towing", None),
        (3, 5, "shooting", 1),
        (5, 12, "towing", 1),
        (12, 15, "hauling", 1),
        (15, 19, "not_towing", None),
    ]


def test_towing_is_never_drawn_shorter_than_it_was() -> None:
    """The place of shooting lies within leg 5, that of hauling within leg 11: both were towed in part."""
    stretches = told(20, [], [tow(3, 5.9, 11.1, 15)], [])

    assert (5, 12, "towing", 1) in stretches


def test_a_doubt_is_drawn_as_not_known() -> None:
    assert told(10, [], [], [doubt(2, 6)]) == [
        (0, 2, "not_towing", None),
        (2, 6, "unknown", None),
        (6, 9, "not_towing", None),
    ]


def test_two_tows_that_touch_stay_two() -> None:
    tows = [tow(0, 0.0, 5.0, 5), tow(5, 5.0, 9.0, 9, number=2)]

    assert told(10, [], tows, []) == [(0, 5, "towing", 1), (5, 9, "towing", 2)]


def test_no_stretch_runs_over_a_gap_and_a_fix_between_two_stands_alone() -> None:
    assert told(10, [3, 4], [tow(0, 0.0, 9.0, 9)], []) == [
        (0, 3, "towing", 1),
        (4, 4, "towing", 1),
        (5, 9, "towing", 1),
    ]


@pytest.mark.parametrize(("fix", "activity"), [(3, "shooting"), (6, "towing"), (9, "hauling")])
def test_a_fix_alone_is_of_the_part_of_the_tow_it_stands_in(fix: int, activity: str) -> None:
    assert (fix, fix, activity, 1) in told(12, [fix - 1, fix], [tow(2, 5.0, 8.0, 10)], [])


def test_a_fix_alone_at_the_end_of_a_tow_is_of_it_and_one_in_a_doubt_is_not_known() -> None:
    assert (5, 5, "towing", 1) in told(10, [4, 5], [tow(0, 0.0, 5.0, 5)], [])
    assert (5, 5, "unknown", None) in told(10, [4, 5], [], [doubt(5, 8)])
    assert (9, 9, "unknown", None) in told(10, [8], [], [doubt(7, 9)])


def test_a_plan_is_a_plan_whatever_its_tow_says() -> None:
    assert told(4, [], [tow(0, 0.0, 3.0, 3)], [], elsewhere=Doing.PLANNED) == [(0, 3, "planned", 1)]


@pytest.mark.parametrize("elsewhere", [Doing.UNKNOWN, Doing.NOT_TOWING])
def test_a_track_of_one_fix_is_one_stretch(elsewhere: Doing) -> None:
    assert told(1, [], [], [], elsewhere=elsewhere) == [(0, 0, str(elsewhere), None)]
    assert told(0, [], [], [], elsewhere=elsewhere) == []


def test_every_leg_is_in_exactly_one_stretch_or_in_a_gap() -> None:
    """Against a plain walk over the legs, for invented tows, doubts and gaps."""
    rng = np.random.default_rng(5)
    for _ in range(60):
        n = int(rng.integers(2, 40))
        gaps = sorted(rng.choice(n - 1, int(rng.integers(0, n // 2 + 1)), replace=False).tolist())
        cut = sorted(rng.integers(0, n, 4).tolist())
        tows = [tow(cut[0], float(cut[0]), cut[1] - 0.5, cut[1])] if cut[0] < cut[1] else []
        seen = np.zeros(n - 1, dtype=int)
        for first, last, _, _ in told(n, gaps, tows, [doubt(cut[2], cut[3])]):
            seen[first:last] += 1
        expected = np.ones(n - 1, dtype=int)
        expected[gaps] = 0
        np.testing.assert_array_equal(seen, expected)
