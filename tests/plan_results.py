"""Plans for tests of what is told of them: lines that the check has judged, with accounts made by hand.

Rows, gear and outcomes are those of the check; timetables are reckoned anew here with pyproj, and advice and
corrected lines were found by hand and are only looked at, never trusted.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
from collections.abc import Sequence

import numpy as np
from scenes import GEOD, KNOT_MPS, START, area, line, moved, points, zone

from towzone.checks.settings import CheckSettings, GearProof
from towzone.model.gear import GearAccount
from towzone.model.plan import (
    Advice,
    AdviceKind,
    CorrectedLine,
    EventKind,
    Fuel,
    LinePlan,
    NoLine,
    NoLineWhy,
    PlanAccount,
    PlanEvent,
    PlanLeg,
    PlannedLine,
    SeasonChange,
    Timetable,
    ZoneMargin,
)
from towzone.model.result import CheckResult, Part, Row
from towzone.model.rules import Rules, Window
from towzone.model.vessel import GearFigures, Rig
from towzone.model.zone import Zone, ZoneKind
from towzone.plan.judging import Judge, PlanSettings
from towzone.plan.lines import line_of, turns_deg

A = (-20.0, 57.0)
SPEED_KN, HAULING_KN, LITRES_PER_HOUR = 2.8, 1.5, 110.0
NAMES = ("Long tow", "Inner tow", "Outer tow")
NOT_KNOWN = (
    "Depth and shape of the bottom along the line are not known to this plan.",
    "Land and shoals are not known to it.",
    "Other vessels, set gear, weather and sea are not known to it.",
)
SET_DEG = 170.0

Position = tuple[float, float]


def build_plan(
    *,
    lines: tuple[int, ...] = (0, 1, 2),
    names: tuple[str, ...] = NAMES,
    at: Position = A,
    figures: bool = True,
    fuel: bool = True,
) -> CheckResult:
    """Return a plan of three lines, or some of them: one corrected, one that cannot be, one clear.

    The first is too close to a wreck with its gear and not proved clear of a cable; the second begins inside
    a closed area; the third is clear.
    """
    wanted, mended = _lines(names, at)
    asked = [wanted[n] for n in lines]
    judge = _judge(_zones(at), figures=figures, fuel=fuel)
    result = _checked(lines, names, at, figures=figures)
    plans = [_plan(n, one, judge, result, mended, at) for n, one in zip(lines, asked, strict=True)]
    account = PlanAccount(lines=tuple(plans), not_known=NOT_KNOWN)
    return dataclasses.replace(result, plan=account)


def _checked(lines: tuple[int, ...], names: tuple[str, ...], at: Position, *, figures: bool) -> CheckResult:
    """Return the check of some lines, and of the corrected one where the first is among them."""
    if (names, at) != (NAMES, A):
        return _check(lines, names, at, figures=figures)
    wanted, mended = _lines(names, at)
    ids = [*(wanted[n].name for n in lines), *([mended.name] if 0 in lines else [])]
    return _part(_check((0, 1, 2), names, at, figures=figures), ids)


@functools.cache
def _check(lines: tuple[int, ...], names: tuple[str, ...], at: Position, *, figures: bool) -> CheckResult:
    """Return a check; it takes seconds and does not change."""
    wanted, mended = _lines(names, at)
    asked = [*(wanted[n] for n in lines), *([mended] if 0 in lines else [])]
    result = _judge(_zones(at), figures=figures, fuel=False).check(asked, version="0.2.0")
    return dataclasses.replace(result, settings={**result.settings, "local_tz": None})


def _part(result: CheckResult, ids: list[str]) -> CheckResult:
    """Return what a check of these lines alone would say; no zone here lies beyond its reach."""
    assert result.beyond_reach == 0
    gear = result.gear
    if gear is not None:
        tows = tuple(tow for tow in gear.tows if tow.track_id in ids)
        told = gear.effects_track_id in ids
        gear = dataclasses.replace(gear, tows=tows) if told else GearAccount(tows=tows)
    return dataclasses.replace(
        result,
        tracks=tuple(track for track in result.tracks if track.track_id in ids),
        gaps={track_id: result.gaps[track_id] for track_id in ids},
        lengths_m={track_id: result.lengths_m[track_id] for track_id in ids},
        tows=tuple(tow for tow in result.tows if tow.track_id in ids),
        rows=tuple(row for row in result.rows if row.track_id in ids),
        gear=gear,
    )


def _lines(names: tuple[str, ...], at: Position) -> tuple[list[PlannedLine], PlannedLine]:
    *wanted, mended = _corners(at)
    return (
        [_line(name, corners) for name, corners in zip(names, wanted, strict=True)],
        _line(f"{names[0]} corrected", mended),
    )


def _corners(at: Position) -> tuple[list[Position], ...]:
    second = moved(at, 80.0, 5000.0)
    third = moved(second, 150.0, 4000.0)
    last = moved(third, 80.0, 4500.0)
    inner = [moved(at, 350.0, 2600.0), moved(second, 350.0, 1500.0)]
    outer = [moved(at, 215.0, 5000.0), moved(at, 260.0, 2500.0)]
    return (
        [at, second, third, last],
        inner,
        outer,
        [at, moved(second, 25.0, 450.0), moved(third, 5.0, 420.0), last],
    )


def _zones(at: Position) -> list[Zone]:
    _, second, third, last = _corners(at)[0]
    cable = [
        moved(moved(third, 170.0, 430.0), 260.0, 2000.0),
        moved(third, 170.0, 530.0),
        moved(moved(last, 170.0, 1600.0), 80.0, 2500.0),
    ]
    closed = [
        moved(at, bearing, metres)
        for bearing, metres in ((330.0, 1900.0), (60.0, 2600.0), (45.0, 4200.0), (340.0, 4000.0))
    ]
    seasonal = [
        moved(at, bearing, metres)
        for bearing, metres in ((170.0, 900.0), (90.0, 1500.0), (70.0, 2100.0), (120.0, 3000.0))
    ]
    tomorrow = Rules(season=(Window(from_month=3, from_day=2, to_month=5, to_day=31),))
    return [
        zone(
            points(moved(second, 205.0, 430.0)),
            ZoneKind.OBSTRUCTION,
            zone_id="W-1",
            name="Made-up wreck",
            radius_m=50.0,
            margin_m=185.2,
            source="Invented notice 3 of 2026",
        ),
        zone(line(*cable), ZoneKind.CABLE, zone_id="C-1", name="Made-up cable", margin_m=463.0),
        zone(area(closed), zone_id="A-1", name="Invented Bank closed area", margin_m=185.2),
        zone(area(seasonal), zone_id="A-2", name="Invented spawning area", rules=tomorrow),
    ]


def _line(name: str, corners: Sequence[Position]) -> PlannedLine:
    lon, lat = np.array(corners).T
    names = tuple(f"corner {n}" if n % 2 else "" for n in range(1, len(corners) + 1))
    return line_of(name, lon, lat, point_names=names, source="plan.gpx")


def _judge(zones: list[Zone], *, figures: bool, fuel: bool) -> Judge:
    gear = GearFigures(
        rig=Rig.TWIN,
        warp_m=350.0,
        clump_warp_m=345.0,
        depth_m=118.0,
        block_height_m=5.0,
        block_separation_m=8.0,
        door_spread_m=100.0,
        sweeps_m=75.0,
        wing_spread_m=18.0,
        net_length_m=45.0,
        block_aft_m=18.0,
        block_starboard_m=0.0,
        tow_speed_kn=2.8,
        heave_speed_mps=1.2,
        shoot_time_s=480.0,
        strongest_kn=0.5,
    )
    check = CheckSettings(
        gear="OTT",
        gear_proof=GearProof.MODEL if figures else GearProof.ROPE,
        position_error_m=10.0,
        steering_m=30.0,
        figures=gear if figures else None,
    )
    return Judge(
        zones,
        PlanSettings(
            check=check,
            depart_utc=START,
            speed_kn=SPEED_KN,
            hauling_way_kn=HAULING_KN,
            hauling_way_stated=True,
            strongest_kn=0.5,
            strongest_stated=True,
            fuel_l_per_h=LITRES_PER_HOUR if fuel else None,
        ),
    )


def _plan(
    number: int, wanted: PlannedLine, judge: Judge, result: CheckResult, mended: PlannedLine, at: Position
) -> LinePlan:
    timetable = _timetable(wanted, judge)
    corrected: CorrectedLine | NoLine | None = None
    if number == 0:
        times = _timetable(mended, judge)
        longer_s = times.seconds - timetable.seconds
        corrected = CorrectedLine(
            track_id=mended.name,
            line=mended,
            timetable=times,
            margins=_margins(mended, result),
            longer_m=times.length_m - timetable.length_m,
            longer_s=longer_s,
            more_litres=longer_s / 3600.0 * LITRES_PER_HOUR if timetable.fuel else None,
            aside_m=450.0,
        )
    elif number == 1:
        lon_deg, lat_deg = moved(at, 20.0, 1500.0)
        corrected = NoLine(
            why=NoLineWhy.START,
            words="Where towing begins, the gear is too close to a zone on any course.",
            zone_ids=("A-1", "W-1"),
            lon_deg=lon_deg,
            lat_deg=lat_deg,
            width_m=612.0,
            needed_m=790.5,
        )
    return LinePlan(
        track_id=wanted.name,
        line=wanted,
        timetable=timetable,
        margins=_margins(wanted, result),
        advice=_advice(wanted, mended) if number == 0 else (),
        corrected=corrected,
    )


def _advice(wanted: PlannedLine, mended: PlannedLine) -> tuple[Advice, ...]:
    corners = list(zip(wanted.lon_deg.tolist(), wanted.lat_deg.tolist(), strict=True))
    later = [corners[0], moved(corners[1], 80.0, 560.0), *corners[2:]]
    sooner = [*corners[:-1], moved(corners[-1], 260.0, 900.0)]
    return (
        Advice(
            kind=AdviceKind.HOLD_ON,
            leg=1,
            zone_ids=("W-1",),
            words="Hold on for 560 m on leg 1 before turning.",
            figures={"hold_on_m": 560.0, "lat_deg": later[1][1], "lon_deg": later[1][0], "side": "starboard"},
            line=_line(wanted.name, later),
            clears=("W-1",),
        ),
        Advice(
            kind=AdviceKind.HAUL_CALL,
            leg=3,
            zone_ids=("C-1",),
            words="Call the haul 900 m before the end of leg 3 at the latest.",
            figures={"before_end_m": 900.0},
            line=_line(wanted.name, sooner),
        ),
        Advice(
            kind=AdviceKind.SHIFT,
            leg=2,
            zone_ids=("C-1", "W-1"),
            words="Shift leg 2 by 430 m to port.",
            figures={"shift_m": 430.0, "side": "port"},
            line=mended,
            clears=("C-1", "W-1"),
            whole=True,
        ),
    )


def _timetable(wanted: PlannedLine, judge: Judge) -> Timetable:
    corners = list(zip(wanted.lon_deg.tolist(), wanted.lat_deg.tolist(), strict=True))
    turns = [*turns_deg(wanted, judge.settings.check.legs).tolist(), None]
    legs, now_s = [], 0.0
    for number, ((a, b), turn_deg) in enumerate(zip(itertools.pairwise(corners), turns, strict=True), 1):
        course_deg, _, length_m = GEOD.inv(*a, *b)
        seconds = length_m / (SPEED_KN * KNOT_MPS)
        legs.append(
            PlanLeg(
                number=number,
                lon0_deg=a[0],
                lat0_deg=a[1],
                lon1_deg=b[0],
                lat1_deg=b[1],
                course_deg=course_deg % 360.0,
                turn_deg=turn_deg,
                length_m=length_m,
                speed_kn=SPEED_KN,
                begin_utc=_after(now_s),
                end_utc=_after(now_s + seconds),
                rectangles=("43E0",) if number == 1 else ("43E0", "42E0"),
                zones=("C-1", "W-1") if number > 1 else ("A-1", "W-1"),
            )
        )
        now_s += seconds
    track = judge.track(wanted)
    before_s, after_s = 480.0, 340.0
    moments = (
        (EventKind.NET_AWAY, -before_s, 0),
        (EventKind.EARLIEST_CONTACT, 60.0 - before_s, 0),
        (EventKind.TOWING, 0.0, 1),
        (EventKind.HAUL_CALL, now_s, -2),
        (EventKind.DOORS_OFF, now_s + 130.0, -1),
        (EventKind.LATEST_CONTACT, now_s + after_s, -1),
    )
    whole_s = before_s + now_s + after_s
    return Timetable(
        legs=tuple(legs),
        events=tuple(
            PlanEvent(
                kind=kind, utc=_after(s), lon_deg=float(track.lon_deg[i]), lat_deg=float(track.lat_deg[i])
            )
            for kind, s, i in moments
        ),
        seasons=(SeasonChange(zone_id="A-2", at_utc=np.datetime64("2026-03-02", "us"), begins=True),),
        length_m=sum(leg.length_m for leg in legs),
        seconds=now_s,
        whole_seconds=whole_s,
        fuel=Fuel(litres=whole_s / 3600.0 * LITRES_PER_HOUR, litres_per_hour=LITRES_PER_HOUR)
        if judge.settings.fuel_l_per_h
        else None,
    )


def _after(seconds: float) -> np.datetime64:
    return START + np.timedelta64(round(seconds * 1e6), "us")


def _margins(wanted: PlannedLine, result: CheckResult) -> tuple[ZoneMargin, ...]:
    margins = []
    for one in result.zones:
        rows = [r for r in result.rows if (r.track_id, r.zone_id) == (wanted.name, one.zone_id)]
        vessel, gear = (_least([r for r in rows if r.part is part]) for part in Part)
        reach = gear.gear if gear is not None else None
        gear_m = gear.clearance_m if gear is not None else None
        margins.append(
            ZoneMargin(
                zone_id=one.zone_id,
                margin_m=result.margins_m[one.zone_id],
                vessel_m=vessel.clearance_m if vessel is not None else None,
                gear_m=gear_m,
                likely_m=reach.likely_clearance_m if reach is not None else None,
                set_m=gear_m - 80.0 if gear_m is not None else None,
                set_deg=SET_DEG if gear_m is not None else None,
                leg=2 if vessel is not None else None,
            )
        )
    return tuple(margins)


def _least(rows: list[Row]) -> Row | None:
    known = [row for row in rows if row.clearance_m is not None]
    return min(known, key=lambda row: row.clearance_m or 0.0, default=None)
