"""What the corners of one zone give away: repeats, rings run together, spikes, slivers, strays."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.geodesy.lines import WGS84
from towzone.model.candidate import Candidate
from towzone.surveys.defects import Defect, Severity, about
from towzone.surveys.strings import IntArray, Strings, batches, columns, named_strings
from towzone.units import NAUTICAL_MILE_M, format_length, format_position

__all__ = ["corner_defects"]

_SPIKE_DEG = 3.0
"""Own choice: two edges closer together than this look like one corner out of line."""
_SLIVER_WIDTH_M = 100.0
_SLIVER_RATIO = 20.0
"""Own choice: narrower than 100 m and twenty times as long looks like what is left between two outlines."""
_STRAY = 3.0
"""Own choice: a corner farther from the box of the others than three times its diagonal is a stray."""
_SHOWN = 5


def corner_defects(candidates: Sequence[Candidate]) -> Iterator[Defect]:
    """Yield what is doubtful about the corners of each feature, refused or not."""
    for batch in batches(candidates):
        for candidate in batch:
            yield from _repeats(candidate)
        strings = columns(batch)
        if len(strings.string):
            strays = _strays(batch, strings)
            yield from strays.values()
            yield from _returns(batch, strings)
            yield from _spikes(batch, strings, set(strays))
            yield from _slivers(batch, strings)


def _repeats(candidate: Candidate) -> Iterator[Defect]:
    for name, corners, closed in named_strings(candidate.shape):
        same = (corners == np.roll(corners, 1, axis=0)).all(axis=1)
        if not closed:
            same[:1] = False
        found = np.flatnonzero(same)
        if not len(found) or len(found) == len(corners):
            continue
        at = int(found[0])
        position = (float(corners[at, 0]), float(corners[at, 1]))
        message = (
            f"{_listed(found + 1)} of the {name} {'repeats' if len(found) == 1 else 'repeat'} the corner"
            f" before ({_at(position)}); left out when the file is read"
        )
        corner = f"{name}, corner {at + 1}"
        yield about(candidate, Severity.NOTE, "repeated corner", message, corner=corner, position=position)


def _listed(numbers: IntArray) -> str:
    if len(numbers) == 1:
        return f"corner {numbers[0]}"
    shown = ", ".join(str(number) for number in numbers[:_SHOWN])
    return f"corners {shown}" + (f" and {len(numbers) - _SHOWN} more" if len(numbers) > _SHOWN else "")


def _at(position: tuple[float, float]) -> str:
    return format_position(*position)


def _returns(batch: list[Candidate], strings: Strings) -> Iterator[Defect]:
    """Yield rings that come back to a corner they have already: several rings may be run together."""
    order = np.lexsort((strings.lat_deg, strings.lon_deg, strings.string))
    here, following = order[:-1], order[1:]
    same = (
        (strings.string[here] == strings.string[following])
        & (strings.lon_deg[here] == strings.lon_deg[following])
        & (strings.lat_deg[here] == strings.lat_deg[following])
        & strings.closed[strings.string[here]]
    )
    told: set[int] = set()
    for index in np.flatnonzero(same):
        string = int(strings.string[here[index]])
        if string in told:
            continue
        told.add(string)
        pairs = np.flatnonzero(same & (strings.string[here] == string))
        ends = np.sort(np.stack([here[pairs], following[pairs]]), axis=0)
        early, late = (int(end) for end in ends[:, np.argmin(ends[1])])
        position = strings.position(late)
        more = f", and {len(pairs) - 1} more corners come again" if len(pairs) > 1 else ""
        message = (
            f"corner {strings.number[late]} of the {strings.name[string]} is again corner"
            f" {strings.number[early]} ({_at(position)}){more}; if several rings stand under one number,"
            " give each its own ring, because joined they get edges that no notice drew"
        )
        yield about(
            batch[int(strings.owner[string])],
            Severity.DOUBT,
            "several rings",
            message,
            corner=strings.corner_name(late),
            position=position,
        )


def _spikes(batch: list[Candidate], strings: Strings, told: set[int]) -> Iterator[Defect]:
    """Yield corners at which an edge all but runs back; strings with a stray have them for that reason."""
    before, after = strings.neighbours()
    shrink = np.cos(np.radians(strings.lat_deg))

    def leg(other: IntArray) -> FloatArray:
        # The closing edge of a ring across 180 degrees ends a whole turn away.
        dlon = wrap_longitude(strings.lon_deg[other] - strings.lon_deg)
        return np.stack([dlon * shrink, strings.lat_deg[other] - strings.lat_deg], axis=1)

    back, on = leg(before), leg(after)
    cross = back[:, 0] * on[:, 1] - back[:, 1] * on[:, 0]
    angle = np.degrees(np.arctan2(np.abs(cross), (back * on).sum(axis=1)))
    some = back.any(axis=1) & on.any(axis=1) & (strings.size[strings.string] > 2)
    for corner in map(int, np.flatnonzero(some & (angle < _SPIKE_DEG))):
        if int(strings.string[corner]) in told:
            continue
        position = strings.position(corner)
        name = strings.name[int(strings.string[corner])]
        message = (
            f"the {name} turns back on itself at corner {strings.number[corner]} ({_at(position)}): its edges"
            f" there are {angle[corner]:.1f} degrees apart; compare this corner with the notice"
        )
        owner = batch[int(strings.owner[strings.string[corner]])]
        yield about(
            owner,
            Severity.DOUBT,
            "spike",
            message,
            corner=strings.corner_name(corner),
            position=position,
        )


def _slivers(batch: list[Candidate], strings: Strings) -> Iterator[Defect]:
    """Yield rings much longer than wide, by the width of a rectangle of their area and length around.

    Only of sound features: the lobes of a ring that crosses itself cancel.
    """
    _, after = strings.neighbours()
    origin = strings.first[strings.string]
    metres = np.radians(1.0) * 6_371_000.0
    middle = np.cos(np.radians(strings.lat_deg[origin]))
    x = (strings.lon_deg - strings.lon_deg[origin]) * middle * metres
    y = (strings.lat_deg - strings.lat_deg[origin]) * metres
    twice = np.add.reduceat(x * y[after] - x[after] * y, strings.first)
    around = np.add.reduceat(np.hypot(x[after] - x, y[after] - y), strings.first)
    area = np.abs(twice) / 2.0
    with np.errstate(divide="ignore", invalid="ignore"):
        width = 2.0 * area / around
        thin = (
            strings.closed & (width < _SLIVER_WIDTH_M) & (around / 2.0 > _SLIVER_RATIO * width) & (area > 0.0)
        )
    sound = np.array([candidate.zone is not None for candidate in batch])
    for string in np.flatnonzero(thin & sound[strings.owner]):
        position = strings.position(int(strings.first[string]))
        message = (
            f"the {strings.name[string]} is a sliver: about {width[string]:.1f} m wide and"
            f" {format_length(around[string] / 2.0)} long, from {_at(position)}; is it what remained between"
            " two outlines that should be one?"
        )
        owner = batch[int(strings.owner[string])]
        yield about(owner, Severity.DOUBT, "sliver", message, corner=strings.name[string], position=position)


def _strays(batch: list[Candidate], strings: Strings) -> dict[int, Defect]:
    """Return by string the corner far from all its others, as one with a wrong hemisphere or digit is."""
    suspects: set[int] = set()
    for values in (strings.lon_deg, strings.lat_deg):
        order = np.lexsort((values, strings.string))
        sizes = strings.size
        enough = np.flatnonzero(sizes >= 4)
        first, last = strings.first[enough], strings.first[enough] + sizes[enough] - 1
        ranked = values[order]
        span = ranked[last] - ranked[first]
        low, high = ranked[first + 1] - ranked[first], ranked[last] - ranked[last - 1]
        suspects |= {int(i) for i in order[first[(low > span / 2.0) & (span > 0.0)]]}
        suspects |= {int(i) for i in order[last[(high > span / 2.0) & (span > 0.0)]]}
    found: dict[int, Defect] = {}
    for corner in sorted(suspects):
        defect = _stray(batch, strings, corner)
        if defect is not None:
            found.setdefault(int(strings.string[corner]), defect)
    return found


def _stray(batch: list[Candidate], strings: Strings, corner: int) -> Defect | None:
    string = int(strings.string[corner])
    own = strings.of(string)
    rest = np.arange(own.start, own.stop) != corner
    lon, lat = strings.lon_deg[own][rest], strings.lat_deg[own][rest]
    box = (float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max()))
    diagonal_m = max(_apart_m(box[0], box[1], box[2], box[3]), 1.0)
    position = strings.position(corner)
    away_m = _from_box_m(position, box)
    if away_m <= _STRAY * diagonal_m:
        return None
    better = _better_letter(position, box, diagonal_m)
    if not better and not strings.closed[string]:
        return None  # a cable may well have one end far from its other corners
    hint = f" ({better} would put it beside them)" if better else ""
    message = (
        f"corner {strings.number[corner]} of the {strings.name[string]} ({_at(position)}) lies"
        f" {away_m / NAUTICAL_MILE_M:.1f} nmi from the box of the other corners, which is"
        f" {diagonal_m / NAUTICAL_MILE_M:.1f} nmi across{hint}; compare its degrees and hemisphere with the"
        " notice"
    )
    return about(
        batch[int(strings.owner[string])],
        Severity.MISLEADS if better else Severity.DOUBT,
        "stray corner",
        message,
        corner=strings.corner_name(corner),
        position=position,
    )


def _apart_m(lon0: float, lat0: float, lon1: float, lat1: float) -> float:
    return float(WGS84.inv(lon0, lat0, lon1, lat1)[2])


def _from_box_m(position: tuple[float, float], box: tuple[float, float, float, float]) -> float:
    """Return how far a position is from the nearest place of a box, metres; the box may leave 180 degrees."""
    middle = (box[0] + box[2]) / 2.0
    lon = middle + float(wrap_longitude(position[0] - middle))
    nearest = (min(max(lon, box[0]), box[2]), min(max(position[1], box[1]), box[3]))
    return _apart_m(lon, position[1], *nearest)


def _better_letter(
    position: tuple[float, float], box: tuple[float, float, float, float], diagonal_m: float
) -> str:
    """Return the position with another hemisphere that lies beside the box, or nothing."""
    lon, lat = position
    for other in ((-lon, lat), (lon, -lat), (-lon, -lat)):
        if _from_box_m(other, box) <= diagonal_m:
            return _at(other)
    return ""
