"""Make the invented zones and tracks in `sample_zones` and `sample_tracks`, byte for byte.

Run ``python tests/make_samples.py`` from anywhere after changing the story told here.
Every zone, bank, vessel and voyage is invented; places at sea were picked for open water and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sample_sailing import (
    GEOD,
    NMI_M,
    Fix,
    Phase,
    Point,
    Voyage,
    ahead,
    beside_rhumb,
    feature,
    geojson,
    gpx_route,
    gpx_track,
    nmea_log,
    position_csv,
    rounding,
)

from towzone.files.vessel_template import vessel_template

__all__ = [
    "Sailed",
    "greywether_corner_trip",
    "greywether_gap_trip",
    "greywether_tip_trip",
    "greywether_trip",
    "plover_track",
    "sample_texts",
    "write_samples",
]

REPOSITORY = Path(__file__).resolve().parents[1]
SOURCE = "invented for the towzone samples"
INVENTED = "Invented for the towzone samples: no such zone, bank, vessel or voyage exists."


@dataclass(frozen=True)
class Sailed:
    """A completed voyage: start, fixes as written, and the phases it was made of."""

    start: datetime
    fixes: tuple[Fix, ...]
    phases: tuple[Phase, ...]


# Greywether Bank: open shelf south of Ireland, well away from any shore. The closed area's two long edges run
# aslant, so that a rhumb line, a geodesic and a straight line in degrees lie hundreds of metres apart.
AREA_SW, AREA_NE = (-10.40, 50.00), (-8.40, 51.00)
AREA_EAST, AREA_SOUTH = (-8.05, 50.72), (-10.05, 49.72)
CABLE_WEST, CABLE_BEND, CABLE_NORTH = (-10.60, 50.95), (-9.70, 50.62), (-9.10, 51.20)
PLATFORM, PIPE_BEND, PIPE_END = (-9.35, 50.75), (-8.95, 51.00), (-8.60, 51.25)
WRECK = (-9.55, 50.50)

# Plover Rise: open ocean on the 180 degree meridian east of New Zealand.
RISE_WEST, RISE_NORTH = (179.30, -43.60), (-179.40, -43.10)
RISE_EAST, RISE_SOUTH = (-179.10, -43.45), (179.60, -43.95)
RISE_CABLE = [(178.80, -42.90), (-179.95, -43.05), (-179.05, -42.70)]


def greywether_zones() -> str:
    """Return the zones of Greywether Bank."""
    ring = [AREA_SW, AREA_SOUTH, AREA_EAST, AREA_NE, AREA_SW]
    stated: dict[str, object] = {"source": SOURCE, "issued": "2026-01-15"}
    return geojson(
        f"{INVENTED} Greywether Bank, five zones.",
        [
            feature(
                "Polygon",
                [ring],
                zone_id="GW-AREA",
                name="Greywether closed area (invented)",
                kind="closed_area",
                edges="rhumb",
                prohibits=["fishing"],
                margin="0m",
                **stated,
                note="Two edges of about 97 nautical miles; read as straight lines in degrees they would lie "
                "more than 200 m away.",
            ),
            feature(
                "LineString",
                [CABLE_WEST, CABLE_BEND, CABLE_NORTH],
                zone_id="GW-CABLE",
                name="Greywether cable (invented)",
                kind="cable",
                edges="geodesic",
                prohibits=["bottom_contact"],
                margin="0.25nmi",
                **stated,
                note="Bends in the middle; a trawl must not touch the sea bed within a quarter mile.",
            ),
            feature(
                "LineString",
                [PLATFORM, PIPE_BEND, PIPE_END],
                zone_id="GW-PIPE",
                name="Greywether pipeline (invented)",
                kind="pipeline",
                edges="geodesic",
                prohibits=["bottom_contact"],
                margin="0.25nmi",
                **stated,
                note="Leaves the platform to the north-east.",
            ),
            feature(
                "Point",
                PLATFORM,
                zone_id="GW-PLATFORM",
                name="Greywether platform (invented)",
                kind="safety_zone",
                edges="geodesic",
                prohibits=["entry"],
                radius="500m",
                margin="0m",
                **stated,
                note="500 m all round, the largest safety zone of UNCLOS (1982), article 60(5).",
            ),
            feature(
                "Point",
                WRECK,
                zone_id="GW-WRECK",
                name="Greywether wreck (invented)",
                kind="obstruction",
                edges="geodesic",
                prohibits=["bottom_contact"],
                radius="50m",
                margin="0.1nmi",
                **stated,
                note="The radius covers the debris around the position.",
            ),
        ],
    )


def plover_zones() -> str:
    """Return the zones of Plover Rise, across 180 degrees and not cut there."""
    ring = [RISE_WEST, RISE_SOUTH, RISE_EAST, RISE_NORTH, RISE_WEST]
    stated: dict[str, object] = {"source": SOURCE, "issued": "2026-01-15"}
    return geojson(
        f"{INVENTED} Plover Rise, two zones across 180 degrees.",
        [
            feature(
                "Polygon",
                [ring],
                zone_id="PR-AREA",
                name="Plover Rise closed area (invented)",
                kind="closed_area",
                edges="rhumb",
                prohibits=["fishing"],
                margin="0m",
                **stated,
                note="Corners on both sides of 180 degrees.",
            ),
            feature(
                "LineString",
                RISE_CABLE,
                zone_id="PR-CABLE",
                name="Plover Rise cable (invented)",
                kind="cable",
                edges="geodesic",
                prohibits=["bottom_contact"],
                margin="0.25nmi",
                **stated,
                note="Its first leg crosses 180 degrees.",
            ),
        ],
    )


def off_area(fraction: float, outside_m: float) -> Point:
    """Return a point off the closed area's north-western edge, outside positive."""
    return beside_rhumb(AREA_SW, AREA_NE, fraction, outside_m)


def off_rise(fraction: float, outside_m: float) -> Point:
    """Return a point off the northern edge of the closed area of Plover Rise, outside positive."""
    return beside_rhumb(RISE_WEST, RISE_NORTH, fraction, outside_m)


def past_bend(clearance_m: float) -> list[Point]:
    """Return start, nearest point and end of a line that passes south of the cable's bend."""
    foot = ahead(CABLE_BEND, 165.0, clearance_m)
    return [ahead(foot, 75.0, 4.6 * NMI_M), foot, ahead(foot, 255.0, 4.6 * NMI_M)]


def greywether_plan(*, mended: bool) -> str:
    """Return the planned route: as first drawn it fails twice, mended it keeps clear of everything."""
    east, _, west = past_bend(2000.0 if mended else 240.0)
    turn = off_area(0.52, 900.0 if mended else -110.0)
    whys = [
        "Shoot here.",
        "Past the bend of the cable, keeping a good mile south of it."
        if mended
        else "The leg to this point passes under 250 m south of the cable's bend; its margin is 463 m.",
        "Turn half a mile outside the closed area."
        if mended
        else "Turn 110 m inside the closed area: its edge is a rhumb line. On a line straight in degrees "
        "this point would seem outside.",
        "Haul here.",
    ]
    end = off_area(0.62, 4.0 * NMI_M)
    name = f"Greywether Bank plan{', mended' if mended else ''} (invented)"
    verdict = "Keeps clear." if mended else "Fails: too near the cable and into the closed area."
    points = list(zip([east, west, turn, end], whys, strict=True))
    return gpx_route(name, f"{INVENTED} Planned tow. {verdict}", points, "2026-05-11")


def greywether_trip() -> Sailed:
    """Sail the completed trip: tow 1 clear, tow 2 too near the cable, tow 3 inside the closed area."""
    harbour_side = (-8.85, 50.96)
    voyage = Voyage(harbour_side, seed=1)
    tow_1 = [off_area(0.64, 2.4 * NMI_M), off_area(0.59, 2.0 * NMI_M), off_area(0.535, 2.2 * NMI_M)]
    voyage.steam([tow_1[0]], 9.6, "out")
    voyage.tow(tow_1, 3.2, "tow 1")
    tow_2 = past_bend(250.0)
    voyage.steam([tow_2[0]], 9.4, "to tow 2")
    voyage.tow(tow_2, 3.4, "tow 2")
    voyage.new_segment()
    tow_3 = [off_area(0.42, 1900.0), off_area(0.48, -170.0), off_area(0.51, -170.0), off_area(0.55, 1900.0)]
    voyage.steam([tow_3[0]], 9.5, "to tow 3")
    voyage.tow(tow_3, 3.5, "tow 3")
    homeward, _, way_m = GEOD.inv(*voyage.position, *harbour_side)
    lost = ahead(voyage.position, homeward, way_m - 8.0 * NMI_M)
    found = ahead(voyage.position, homeward, way_m - 1.7 * NMI_M)
    voyage.steam([lost], 9.4, "home")
    voyage.go_dark([found], 9.4, "gap")
    voyage.steam([harbour_side], 9.4, "last miles")
    return _sailed(voyage, datetime(2026, 5, 12, 2, 0, tzinfo=UTC))


def greywether_gap_trip() -> Sailed:
    """Sail one tow past the platform that loses its fixes for 36 minutes beside it."""
    abeam = ahead(PLATFORM, 180.0, 1.4 * NMI_M)
    east, west = ahead(abeam, 90.0, 3.5 * NMI_M), ahead(abeam, 270.0, 3.5 * NMI_M)
    lost, found = ahead(abeam, 90.0, 1.0 * NMI_M), ahead(abeam, 270.0, 1.0 * NMI_M)
    voyage = Voyage(ahead(east, 110.0, 2.0 * NMI_M), seed=2)
    voyage.steam([east], 9.5, "out")
    voyage.steam([lost], 3.3, "tow before the gap")
    voyage.go_dark([found], 3.3, "gap")
    voyage.steam([west], 3.3, "tow after the gap")
    voyage.lie(20)
    return _sailed(voyage, datetime(2026, 6, 3, 5, 30, tzinfo=UTC))


def greywether_corner_trip() -> Sailed:
    """Sail one tow round the bend of the cable: the vessel keeps its margin of 463 m, its gear does not.

    The line comes from the open sea, runs along the cable some 530 m off, and rounds the bend 490 m off.
    """
    back_deg, onward_deg = (GEOD.inv(*CABLE_BEND, *end)[0] for end in (CABLE_NORTH, CABLE_WEST))
    along = rounding(
        CABLE_BEND,
        back_deg,
        onward_deg,
        radius_m=600.0,
        clearance_m=490.0,
        run_in_m=1600.0,
        run_out_m=1000.0,
        step_m=16.5,  # ten seconds at 3.2 knots
    )
    tow = [ahead(along[0], back_deg + 45.0, 1700.0), *along, ahead(along[-1], onward_deg - 35.0, 1300.0)]
    voyage = Voyage(ahead(tow[0], 60.0, 1.6 * NMI_M), seed=4)
    voyage.steam([tow[0]], 9.5, "out")
    voyage.tow(tow, 3.2, "tow 1")
    voyage.steam([ahead(voyage.position, 200.0, 1.2 * NMI_M)], 9.5, "home")
    return _sailed(voyage, datetime(2026, 6, 16, 6, 0, tzinfo=UTC))


def greywether_tip_trip() -> Sailed:
    """Sail one tow round the northern tip of the closed area: the vessel stays outside, its gear does not."""
    back_deg, onward_deg = (GEOD.inv(*AREA_NE, *end)[0] for end in (AREA_SW, AREA_EAST))
    tow = rounding(
        AREA_NE,
        back_deg,
        onward_deg,
        radius_m=335.0,
        clearance_m=23.0,
        run_in_m=2900.0,
        run_out_m=2700.0,
        step_m=18.0,  # ten seconds at 3.5 knots
    )
    voyage = Voyage(ahead(tow[0], 300.0, 1.6 * NMI_M), seed=5)
    voyage.steam([tow[0]], 9.5, "out")
    voyage.tow(tow, 3.5, "tow 1")
    voyage.steam([ahead(voyage.position, 80.0, 1.2 * NMI_M)], 9.5, "home")
    return _sailed(voyage, datetime(2026, 6, 17, 6, 0, tzinfo=UTC))


def plover_plan() -> str:
    """Return a planned route across 180 degrees that keeps clear."""
    points = [
        (off_rise(0.30, 1.5 * NMI_M), "Shoot here, in east longitude."),
        (off_rise(0.55, 1.2 * NMI_M), "In west longitude, 1.2 nautical miles north of the closed area."),
        (off_rise(0.75, 1.5 * NMI_M), "Haul here."),
    ]
    name = "Plover Rise plan (invented)"
    return gpx_route(name, f"{INVENTED} Planned tow across 180 degrees. Keeps clear.", points, "2026-05-20")


def plover_track() -> Sailed:
    """Sail one tow that crosses 180 degrees and then strays into the closed area."""
    tow = [off_rise(0.47, 1500.0), off_rise(0.56, 900.0), off_rise(0.62, -300.0), off_rise(0.68, 1100.0)]
    bearing_deg, _, _ = GEOD.inv(*tow[0], *off_rise(0.40, 1500.0))
    voyage = Voyage(ahead(tow[0], bearing_deg, 3.0 * NMI_M), seed=3)
    voyage.steam([tow[0]], 9.2, "out")
    voyage.tow(tow, 3.3, "tow 1")
    return _sailed(voyage, datetime(2026, 5, 21, 20, 0, tzinfo=UTC))


def _sailed(voyage: Voyage, start: datetime) -> Sailed:
    return Sailed(start, tuple(voyage.fixes()), tuple(voyage.phases))


def _track(sail: Callable[[], Sailed], name: str, story: str) -> str:
    sailed = sail()
    return gpx_track(name, f"{INVENTED} {story}", sailed.fixes, sailed.start)


def greywether_log() -> str:
    """Return what the receiver and the sounder of the trip logged around tow 2, every twenty seconds."""
    sailed = greywether_trip()
    tow = next(phase for phase in sailed.phases if phase.name == "tow 2")
    own = [f for f in sailed.fixes if tow.first - 1800 <= f.second <= tow.last + 600 and f.second % 20 == 0]
    return nmea_log("Invented for the towzone samples", own, sailed.start)


def greywether_reports() -> str:
    """Return the trip as two-hourly reports of position."""
    sailed = greywether_trip()
    own = [fix for fix in sailed.fixes if fix.second % 7200 == 0]
    return position_csv(INVENTED, "invented vessel", own, sailed.start)


def greywether_hauls() -> str:
    """Return the haul log of the trip, kept to five minutes; haul 3 is said to end 40 minutes early."""
    sailed = greywether_trip()
    rows = []
    for number, phase in enumerate([p for p in sailed.phases if p.name.startswith("tow ")], start=1):
        shoot_s, haul_s = phase.first + 8 * 60, phase.last - 10 * 60 - (2400 if number == 3 else 0)
        shoot, haul = (
            (sailed.start + timedelta(seconds=round(s / 300) * 300)).strftime("%Y-%m-%dT%H:%MZ")
            for s in (shoot_s, haul_s)
        )
        rows.append(f"{number},{shoot},{haul},350,{116 + number},OTB")
    return "\n".join([f"# {INVENTED}", "haul,shoot_utc,haul_utc,warp_m,depth_m,gear", *rows, ""])


def greywether_vessel() -> str:
    """Return the profile of the vessel of Greywether Bank: a twin rig, as the template has it."""
    return f"# {INVENTED}\n#\n{vessel_template('OTT', filled=True)}"


def sample_texts() -> dict[str, str]:
    """Return every sample file by its path in the repository."""
    return {
        "sample_zones/greywether_bank.geojson": greywether_zones(),
        "sample_zones/plover_rise.geojson": plover_zones(),
        "sample_tracks/greywether_plan.gpx": greywether_plan(mended=False),
        "sample_tracks/greywether_plan_mended.gpx": greywether_plan(mended=True),
        "sample_tracks/greywether_trip.gpx": _track(
            greywether_trip,
            "Greywether Bank trip (invented)",
            "Completed trip of three tows: the first clear, the second too near the cable, the third inside "
            "the closed area. No fixes for 40 minutes on the way home, far from every zone.",
        ),
        "sample_tracks/greywether_trip_gap.gpx": _track(
            greywether_gap_trip,
            "Greywether Bank trip with a gap (invented)",
            "One tow past the platform, without fixes for 36 minutes beside it: nobody knows where it went.",
        ),
        "sample_tracks/greywether_corner.gpx": _track(
            greywether_corner_trip,
            "Greywether Bank, round the bend (invented)",
            "One tow round the bend of the cable. The vessel keeps 490 m off, outside the margin of 463 m; "
            "the twin trawl some 320 m astern of it cuts the corner.",
        ),
        "sample_tracks/greywether_tip.gpx": _track(
            greywether_tip_trip,
            "Greywether Bank, round the tip (invented)",
            "One tow round the northern tip of the closed area. The vessel stays 20 m outside; the twin "
            "trawl astern of it cuts across the tip.",
        ),
        "sample_tracks/greywether_log.nmea": greywether_log(),
        "sample_tracks/greywether_reports.csv": greywether_reports(),
        "sample_tracks/greywether_hauls.csv": greywether_hauls(),
        "sample_tracks/greywether_vessel.toml": greywether_vessel(),
        "sample_tracks/plover_plan.gpx": plover_plan(),
        "sample_tracks/plover_track.gpx": _track(
            plover_track,
            "Plover Rise tow (invented)",
            "Completed tow that crosses 180 degrees and strays into the closed area.",
        ),
    }


def write_samples(folder: Path) -> None:
    """Write every sample below a folder, as UTF-8 with line feeds on every system."""
    for name, text in sample_texts().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode())


if __name__ == "__main__":
    write_samples(REPOSITORY)
