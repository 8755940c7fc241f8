"""Invented fishing trips of which it is known second by second what the vessel was doing.

Uses pyproj and numpy alone, nothing of towzone, so that a trip is an outside opinion. A trip is a list of
phases, each with a speed and a heading for every second; both are smoothed over a minute, because vessels
are, and summed up in a plane whose distances from its middle are true. Speeds, durations and sea state are
common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from pyproj import Geod

__all__ = [
    "DODGE",
    "GEARS",
    "HAUL",
    "NAMES",
    "SHOOT",
    "START_S",
    "STEAM",
    "TOW",
    "WAIT",
    "Sampled",
    "Trip",
    "confusion",
    "make_trip",
    "sail",
    "sample",
]

GEOD = Geod(ellps="WGS84")
KNOT_MPS = 1852.0 / 3600.0  # exactly; SI Brochure, 8th ed. (2006), Table 8

STEAM, SHOOT, TOW, HAUL, WAIT, DODGE = range(6)
NAMES = ("steam", "shoot", "tow", "haul", "wait", "dodge")

GEARS = {
    "OTB": (2.7, 3.8),
    "OTT": (2.5, 3.2),
    "PTB": (2.8, 3.6),
    "TBB": (4.5, 5.8),
    "TBS": (2.5, 3.3),
    "TBN": (2.4, 3.0),
    "OTM": (3.2, 4.0),
    "DRB": (2.5, 3.2),
    None: (2.7, 3.8),
}
"""Usual towing speed of a trip, knots, between these."""


START_S = 1_700_000_000.0
"""Second 0 of every trip, in seconds since 1970."""


@dataclass
class Trip:
    """What a vessel did, second by second.

    ``x_m`` and ``y_m`` are east and north of ``origin`` (longitude, latitude); ``phase`` is one of the codes
    above; ``tows`` are (begin of shooting, brakes on, start of hauling, end of hauling) in seconds.
    """

    gear: str | None
    origin: tuple[float, float]
    x_m: np.ndarray
    y_m: np.ndarray
    phase: np.ndarray
    tows: list[tuple[int, int, int, int]]


@dataclass
class Sampled:
    """Fixes of a trip as a receiver gives them, and the second of each."""

    lon_deg: np.ndarray
    lat_deg: np.ndarray
    time_s: np.ndarray
    part: np.ndarray
    second: np.ndarray


def wander(rng, seconds, sigma, correlation_s):
    """Noise that changes over a time, of standard deviation sigma: random knots joined smoothly."""
    knots = rng.normal(0.0, sigma, int(seconds / correlation_s) + 3)
    at = (np.arange(seconds) + rng.uniform(0.0, correlation_s)) / correlation_s
    low = at.astype(int)
    part = (1.0 - np.cos(np.pi * (at - low))) / 2.0
    mixed = knots[low] * (1.0 - part) + knots[low + 1] * part
    # Between knots the spread of the mixture is smaller than at them.
    return mixed / np.sqrt((1.0 - part) ** 2 + part**2)


class _Log:
    """Phases strung together."""

    def __init__(self, rng, gear):
        self.rng, self.gear = rng, gear
        self.base = rng.uniform(*GEARS[gear])
        self.steaming = rng.uniform(9.0, 11.0)
        self.heading = rng.uniform(0.0, 360.0)
        self.speeds, self.headings, self.phases, self.tows = [], [], [], []
        self.second = 0

    def add(self, phase, speed, heading):
        self.speeds.append(np.maximum(speed, 0.0))
        self.headings.append(heading)
        self.phases.append(np.full(len(speed), phase))
        self.heading = float(heading[-1])
        self.second += len(speed)

    def seconds(self, low_min, high_min):
        return int(60.0 * self.rng.uniform(low_min, high_min))

    def steam(self, low_min, high_min):
        n = self.seconds(low_min, high_min)
        course = self.heading + self.rng.uniform(-120.0, 120.0)
        speed = self.steaming + wander(self.rng, n, 0.25, 300.0) + wander(self.rng, n, 0.15, 20.0)
        self.add(STEAM, speed, course + wander(self.rng, n, 3.0, 120.0))

    def wait(self, low_min, high_min):
        """Drifting with wind and tide, or lying to."""
        n = self.seconds(low_min, high_min)
        drift = self.rng.uniform(0.1, 0.8)
        speed = drift + wander(self.rng, n, 0.2, 200.0)
        self.add(WAIT, speed, self.heading + np.cumsum(wander(self.rng, n, 0.05, 300.0)))

    def dodge(self, low_min, high_min):
        """Slow ahead into bad weather: the heading hunts about, the speed falls off in the seas."""
        n = self.seconds(low_min, high_min)
        speed = self.rng.uniform(2.0, 3.0) + wander(self.rng, n, 0.35, 150.0) + wander(self.rng, n, 0.2, 20.0)
        hunting = self.rng.uniform(25.0, 50.0)
        heading = self.heading + wander(self.rng, n, hunting, self.rng.uniform(150.0, 400.0))
        self.add(DODGE, speed, heading + wander(self.rng, n, 8.0, 15.0))

    def tow(self, low_min, high_min):
        """Shoot, tow and haul."""
        rng, begin = self.rng, self.second
        # Beams go down quickly and at towing speed; doors are set at 5 to 7 kn, easing.
        n = self.seconds(2.0, 4.0) if self.gear == "TBB" else self.seconds(5.0, 9.0)
        course = self.heading + rng.uniform(-90.0, 90.0)
        own = self.base + rng.normal(0.0, 0.15)
        paying_out = own if self.gear == "TBB" else rng.uniform(5.0, 6.8)
        speed = np.linspace(paying_out, own, n) + wander(rng, n, 0.15, 60.0)
        self.add(SHOOT, speed, course + wander(rng, n, 3.0, 120.0))
        brakes = self.second
        n = self.seconds(low_min, high_min)
        tide = 0.3 * np.sin(2.0 * np.pi * (self.second + np.arange(n)) / 44_700.0 + rng.uniform(0.0, 6.28))
        speed = own + tide + wander(rng, n, 0.12, 200.0) + wander(rng, n, 0.1, 20.0)
        self.add(TOW, speed, self._towed_course(n))
        hauling = self.second
        n = self.seconds(10.0, 20.0)
        speed = rng.uniform(0.7, 1.2) + wander(rng, n, 0.15, 100.0)
        self.add(HAUL, speed, self.heading + wander(rng, n, 15.0, 200.0))
        self.tows.append((begin, brakes, hauling, self.second))

    def _towed_course(self, n):
        """Straight, with turns, or along a winding depth contour; dredges turn again and again."""
        rng = self.rng
        course = self.heading + wander(rng, n, 3.0, 200.0)
        style = "turns" if self.gear == "DRB" else rng.choice(["straight", "turns", "contour"])
        if style == "contour":
            course = course + wander(rng, n, 25.0, 1500.0)
        if style == "turns":
            every = 1500 if self.gear == "DRB" else 3600
            at = int(rng.uniform(0.5, 1.0) * every)
            while at < n - every // 2:
                lasts = int(rng.uniform(240.0, 900.0))
                turn = np.clip((np.arange(n) - at) / lasts, 0.0, 1.0)
                course = course + turn * rng.choice([-1.0, 1.0]) * rng.uniform(60.0, 180.0)
                at += int(rng.uniform(0.8, 1.6) * every)
        return course


def sail(stretches, every_s=10, origin=(-8.0, 54.0)):
    """Return fixes without noise along stretches of (minutes, knots, true heading at its start and end)."""
    speed, heading = (np.concatenate(columns) for columns in zip(*map(_stretch, stretches), strict=True))
    x = np.concatenate([[0.0], np.cumsum(speed * KNOT_MPS * np.sin(np.radians(heading)))])
    y = np.concatenate([[0.0], np.cumsum(speed * KNOT_MPS * np.cos(np.radians(heading)))])
    second = np.arange(0, len(x), every_s)
    return _fixes(origin, x[second], y[second], second)


def _stretch(stretch):
    minutes, knots, begin, end = stretch
    n = round(minutes * 60.0)
    return np.full(n, float(knots)), np.linspace(begin, end, n)


def make_trip(seed, gear="OTB", days=2.0, shortest_min=40.0, dodging=False):
    """Return an invented trip: out of harbour, tows with whatever lies between them, and back."""
    rng = np.random.default_rng(seed)
    log = _Log(rng, gear)
    log.wait(5, 30)
    log.steam(60, 180)
    dodge_at = rng.uniform(0.2, 0.8) * days * 86_400 if dodging else np.inf
    while log.second < days * 86_400:
        log.tow(shortest_min, 300)
        after = rng.choice(["shoot", "shoot", "steam", "wait", "both"])
        if after == "shoot":
            log.wait(3, 15)
        if after in ("wait", "both"):
            log.wait(20, 150)
        if after in ("steam", "both"):
            log.steam(15, 120)
        if log.second > dodge_at:
            log.steam(10, 40)
            log.dodge(180, 420)
            log.steam(10, 40)
            dodge_at = np.inf
    log.steam(60, 180)
    log.wait(10, 30)
    speed = _smooth(np.concatenate(log.speeds)) * KNOT_MPS
    heading = np.radians(_smooth(np.concatenate(log.headings)))
    origin = (float(rng.uniform(-180.0, 180.0)), float(rng.uniform(-65.0, 65.0)))
    return Trip(
        gear=gear,
        origin=origin,
        x_m=np.cumsum(speed * np.sin(heading)),
        y_m=np.cumsum(speed * np.cos(heading)),
        phase=np.concatenate(log.phases),
        tows=log.tows,
    )


def _smooth(column, width=61):
    """Running mean over about a minute."""
    padded = np.concatenate([np.full(width // 2, column[0]), column, np.full(width // 2, column[-1])])
    total = np.cumsum(np.concatenate([[0.0], padded]))
    return (total[width:] - total[:-width]) / width


def sample(trip, seed, every_s, irregular=False):
    """Return fixes of a trip every so many seconds, with the noise of a receiver.

    The error wanders by 1.5 to 5 m over ten minutes and jitters by half a metre to two from fix to fix.
    """
    rng = np.random.default_rng(seed)
    n = len(trip.phase)
    if irregular:
        steps = rng.uniform(0.4, 1.6, int(3 * n / every_s)) * every_s
        second = np.cumsum(steps)[np.cumsum(steps) < n - 1].astype(int)
    else:
        second = np.arange(rng.integers(0, every_s), n, every_s)
    drift, jitter = rng.uniform(1.5, 5.0), rng.uniform(0.5, 2.0)
    x, y = (
        column[second] + wander(rng, n, drift, 600.0)[second] + rng.normal(0.0, jitter, len(second))
        for column in (trip.x_m, trip.y_m)
    )
    return _fixes(trip.origin, x, y, second)


def _fixes(origin, x, y, second):
    """Fixes at eastings and northings from an origin, on the plane that is true from there."""
    lon, lat, _ = GEOD.fwd(
        np.full(len(x), origin[0]),
        np.full(len(x), origin[1]),
        np.degrees(np.arctan2(x, y)),
        np.hypot(x, y),
    )
    return Sampled(
        lon_deg=(lon + 180.0) % 360.0 - 180.0,
        lat_deg=lat,
        time_s=START_S + second.astype(float),
        part=np.zeros(len(second), dtype=np.int32),
        second=second,
    )


def confusion(trip, sampled, activity):
    """Return the seconds of each phase (rows) called cannot tell, not towing, towing (columns).

    Every second between the first and the last fix counts once, by the leg it lies in.
    """
    seconds = np.arange(sampled.second[0], sampled.second[-1])
    leg = np.searchsorted(sampled.second, seconds, side="right") - 1
    table = np.zeros((len(NAMES), 3), dtype=np.int64)
    np.add.at(table, (trip.phase[seconds], activity[leg].astype(int) + 1), 1)
    return table
