"""Random trips with a haul log, in a plane of metres: what was sailed and logged, and the same for towzone.

The plane is pyproj's azimuthal equidistant projection about `MIDDLE`; within 40 km of it lengths are true to
1 part in 100 000 and straight lines are geodesics to a few centimetres.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from pyproj import Proj
from scenes import KNOT_MPS, START, area, fixes, line, points, zone

from towzone.geodesy.lines import LineKind
from towzone.model.rules import Rules, Window
from towzone.model.zone import Prohibition, ZoneKind
from towzone.tows.logged import LoggedHaul

MIDDLE = (-20.0, 57.0)
PLANE = Proj(proj="aeqd", lon_0=MIDDLE[0], lat_0=MIDDLE[1], ellps="WGS84")
RUN_KN = 9.5
"""Faster than any gear is towed, so that detection never takes it for towing."""
MIDNIGHT_S = 18 * 3600.0
"""From `START` to the first midnight after it."""


@dataclass(frozen=True, kw_only=True)
class Haul:
    """One haul, seconds after `START`."""

    shoot_s: float
    haul_s: float
    warp_m: float | None

    def logged(self, number):
        return LoggedHaul(
            haul=f"h{number}",
            shoot_utc=START + np.timedelta64(round(self.shoot_s * 1e6), "us"),
            haul_utc=START + np.timedelta64(round(self.haul_s * 1e6), "us"),
            warp_m=self.warp_m,
            line=number + 2,
        )


@dataclass(frozen=True, kw_only=True)
class Ground:
    """One zone in plain numbers: shape in the plane, and when and for whom its rule holds."""

    kind: str
    corners: np.ndarray
    radius_m: float
    margin_m: float
    prohibits: tuple
    from_s: float
    until_s: float
    covered: bool | None
    transit_kn: float | None
    turned: bool
    zone: object


@dataclass(frozen=True, kw_only=True)
class Trip:
    """Fixes in the plane with times (``NaN`` where lost), the speed of every moment, hauls and zones."""

    xy: np.ndarray
    time_s: np.ndarray
    phase_ends_s: np.ndarray
    phase_kn: np.ndarray
    hauls: tuple
    grounds: tuple
    gear: str | None
    track: object
    step_s: float


def random_trip(rng, *, grounds=2):
    first_s = float(rng.choice([0.0, 0.0, 16.0, 17.0])) * 3600.0
    ends_s, speeds_kn, tows = _phases(rng, first_s)
    step_s = float(rng.choice([20.0, 30.0, 60.0, 61.7, 120.0]))
    time_s, xy = _sailed(rng, first_s, ends_s, speeds_kn, step_s)
    keep = _without_gaps(rng, time_s)
    time_s, xy = time_s[keep], xy[keep]
    hauls = _hauls(rng, tows, time_s)
    gear = [None, "OTB", "OTB", "OTM"][rng.integers(4)]
    told = _lost_times(rng, time_s)
    lon, lat = PLANE(xy[:, 0], xy[:, 1], inverse=True)
    track = fixes(np.column_stack([lon, lat]), [None if np.isnan(t) else float(t) for t in told])
    some = tuple(_ground(rng, n, time_s, xy, _spots(ends_s, speeds_kn, hauls), gear) for n in range(grounds))
    return Trip(
        xy=xy,
        time_s=told,
        phase_ends_s=ends_s,
        phase_kn=speeds_kn,
        hauls=hauls,
        grounds=some,
        gear=gear,
        track=track,
        step_s=step_s,
    )


def _phases(rng, first_s):
    """Running, towing, hauling and lying still in turn."""
    now, ends_s, speeds_kn, tows = first_s, [], [], []
    tow_kn = float(rng.uniform(2.4, 3.6))

    def sail(minutes, kn):
        nonlocal now
        now += 60.0 * minutes
        ends_s.append(now)
        speeds_kn.append(kn)

    begins = rng.random()
    if begins < 0.2:  # as after a haul that ended before the first position
        sail(rng.uniform(8, 16), 1.0)
    if begins < 0.6:
        sail(rng.uniform(20, 45), RUN_KN)
    for _ in range(int(rng.integers(1, 4))):
        begin = now
        sail(rng.uniform(35, 90), tow_kn)
        tows.append((begin, now))
        if rng.random() < 0.6:
            sail(rng.uniform(8, 16), 1.0)
        if rng.random() < 0.4:
            sail(rng.uniform(13, 20), 0.0)
        if rng.random() < 0.7:
            sail(rng.uniform(14, 60), RUN_KN)
    return np.array(ends_s), np.array(speeds_kn), tows


def _sailed(rng, first_s, ends_s, speeds_kn, step_s):
    """Fixes in the plane every step, on courses that change now and then."""
    time_s = np.arange(first_s, ends_s[-1], step_s)
    kn = speeds_kn[np.searchsorted(ends_s, time_s[:-1], side="right")]
    turns = rng.random(len(kn)) < step_s / 900.0
    course = rng.uniform(0.0, 2.0 * np.pi) + np.cumsum(turns * rng.uniform(-0.9, 0.9, len(kn)))
    steps = (kn * KNOT_MPS * np.diff(time_s))[:, None] * np.column_stack([np.sin(course), np.cos(course)])
    xy = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
    return time_s, xy - (xy.min(axis=0) + xy.max(axis=0)) / 2.0


def _without_gaps(rng, time_s):
    keep = np.ones(len(time_s), dtype=bool)
    for _ in range(int(rng.choice([0, 0, 1, 2]))):
        begin = rng.uniform(time_s[0], time_s[-1])
        keep &= (time_s < begin) | (time_s > begin + rng.uniform(950.0, 4000.0))
    if keep.sum() >= 2 and rng.random() < 0.1:  # a fix that stands alone between two gaps
        alone = rng.choice(np.flatnonzero(keep))
        keep &= (np.abs(time_s - time_s[alone]) > 1000.0) | (np.arange(len(keep)) == alone)
    return keep if keep.sum() >= 2 else np.ones(len(time_s), dtype=bool)


def _lost_times(rng, time_s):
    told = time_s.copy()
    if rng.random() < 0.04:
        told[: int(rng.integers(1, 3))] = np.nan
    if rng.random() < 0.04:
        told[-int(rng.integers(1, 3)) :] = np.nan
    return told if np.count_nonzero(~np.isnan(told)) >= 2 else time_s.copy()


def _hauls(rng, tows, time_s):
    """Hauls about as towed: late, early, not logged, cut in two, before, after, and where none was towed."""
    spans = []
    for begin, end in tows:
        if rng.random() < 0.1 and len(tows) > 1:
            continue
        shoot, haul = (
            begin + rng.choice([0.0, rng.uniform(-900, 900)]),
            end + rng.choice([0.0, rng.uniform(-900, 900)]),
        )
        if rng.random() < 0.15:
            middle = rng.uniform(shoot + 60.0, haul - 60.0)
            spans += [(shoot, middle), (middle + rng.choice([0.0, 0.5, 7.0, 700.0]), haul)]
        else:
            spans.append((shoot, haul))
    if rng.random() < 0.15:
        at = rng.uniform(time_s[0], time_s[-1])
        spans.append((at, at + rng.choice([20.0, 400.0, 2500.0])))
    if rng.random() < 0.2:
        ended = time_s[0] - rng.choice([0.0, 100.0, 1100.0, 4000.0])
        spans.append((ended - 5000.0, ended))
    if rng.random() < 0.2:
        shot = time_s[-1] + rng.choice([0.0, 100.0, 500.0, 4000.0])
        spans.append((shot, shot + 5000.0))
    if rng.random() < 0.1:
        spans.append((time_s[0] - 3000.0, time_s[0] + rng.uniform(1.0, 2000.0)))
    kept = []
    for shoot, haul in sorted((round(a, 1), round(b, 1)) for a, b in spans):
        if haul > shoot and (not kept or shoot >= kept[-1][1]):
            kept.append((shoot, haul))
    kept = kept or [(float(time_s[0]) + 1.0, float(time_s[-1]) + 300.0)]
    warps = [None if rng.random() < 0.7 else float(rng.uniform(300.0, 1500.0)) for _ in kept]
    return tuple(Haul(shoot_s=a, haul_s=b, warp_m=w) for (a, b), w in zip(kept, warps, strict=True))


def _spots(ends_s, speeds_kn, hauls):
    """Times at which a zone is of interest: shooting, hauling, and early in the runs."""
    runs = [end - 1800.0 for end, kn in zip(ends_s, speeds_kn, strict=True) if kn == RUN_KN]
    return [s for haul in hauls for s in (haul.shoot_s - 250.0, haul.haul_s + 300.0)] + 2 * runs


def _ground(rng, number, time_s, xy, spots, gear):
    snug = rng.random() < 0.35  # small, and met only there
    at_s = float(rng.choice(spots)) if snug or rng.random() < 0.4 else rng.uniform(time_s[0], time_s[-1])
    at = np.array([np.interp(at_s, time_s, xy[:, axis]) for axis in (0, 1)])
    at = at + rng.normal(0.0, float(rng.choice([20.0, 300.0, 1500.0])) * (not snug), 2)
    kind = "area" if snug else str(rng.choice(["area", "area", "area", "line", "point"]))
    turned = kind == "area" and not snug and rng.random() < 0.15
    size = 100.0 if snug else 10.0 ** rng.uniform(2.0, 3.4) * (3.0 if turned else 1.0)
    corners = at + _corners(rng, kind, size)
    lon, lat = PLANE(corners[:, 0], corners[:, 1], inverse=True)
    places = list(zip(lon.tolist(), lat.tolist(), strict=True))
    shape = {"area": area(places), "line": line(*places), "point": points(*places)}[kind]
    radius_m = float(rng.choice([0.0, 0.0, 300.0])) if not (turned or snug) else 0.0
    margin_m = float(rng.choice([0.0, 0.0, 200.0, 463.0])) * (not snug)
    prohibits = [
        (Prohibition.FISHING,),
        (Prohibition.FISHING,),
        (Prohibition.BOTTOM_CONTACT,),
        (Prohibition.ENTRY,),
        (Prohibition.FISHING, Prohibition.ENTRY),
    ][rng.integers(5)]
    transit_kn = 6.0 if kind == "area" and not turned and rng.random() < 0.2 else None
    from_s, until_s, dates = _dates(rng, time_s)
    gears, spared = [((), ()), ((), ()), ((), ()), (("TB",), ()), (("TM",), ()), ((), ("OTB",))][
        rng.integers(6)
    ]
    rules = Rules(
        gears=gears,
        except_gears=spared,
        transit_min_speed_kn=transit_kn,
        allowed_only_inside=turned,
        **dates,
    )
    return Ground(
        kind=kind,
        corners=corners,
        radius_m=radius_m,
        margin_m=margin_m,
        prohibits=prohibits,
        from_s=from_s,
        until_s=until_s,
        covered=_covered(gear, gears, spared, prohibits),
        transit_kn=transit_kn,
        turned=turned,
        zone=zone(
            shape,
            ZoneKind.OTHER,
            edges=LineKind.GEODESIC,
            zone_id=f"Z{number}",
            prohibits=prohibits,
            margin_m=margin_m,
            radius_m=radius_m,
            rules=rules,
        ),
    )


def _corners(rng, kind, size):
    if kind == "point":
        return rng.normal(0.0, 400.0, (int(rng.integers(1, 3)), 2))
    n = int(rng.integers(3, 8)) if kind == "area" else int(rng.integers(2, 4))
    turn = rng.uniform(0.0, 2.0 * np.pi) + np.arange(n) * 2.0 * np.pi / n
    away = size * rng.uniform(0.6, 1.0, n)
    return away[:, None] * np.column_stack([np.sin(turn), np.cos(turn)])


def _dates(rng, time_s):
    """When the rule begins and ends to hold, seconds after `START`, and the same as fields of `Rules`."""
    pick = rng.random()
    if pick < 0.6:
        return -np.inf, np.inf, {}
    at_s = round(float(rng.uniform(time_s[0], time_s[-1])))
    at = datetime(2026, 3, 1, 6, tzinfo=UTC) + timedelta(seconds=at_s)
    if pick < 0.7:
        return at_s, np.inf, {"valid_from": at}
    if pick < 0.8:
        return -np.inf, at_s, {"valid_until": at}
    if pick < 0.9:
        spring = Window(from_month=3, from_day=2, to_month=5, to_day=31)
        return MIDNIGHT_S, np.inf, {"season": (spring,)}
    winter = Window(from_month=10, from_day=1, to_month=3, to_day=1)
    return -np.inf, MIDNIGHT_S, {"season": (winter,)}


def _covered(gear, gears, spared, prohibits):
    """Whether the rule covers the gear, ``None`` where that is not known."""
    if gear is None:
        return None if gears or spared else True
    if prohibits == (Prohibition.BOTTOM_CONTACT,) and gear == "OTM":
        return False
    words = {"OTB": {"OTB", "TB"}, "OTM": {"OTM", "TM"}}[gear]
    return (not gears or bool(words & set(gears))) and not words & set(spared)
