"""The figures of a vessel profile that say where the gear is: their names and what each may be."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from towzone.errors import UsageError, quoted
from towzone.files.vessel_agreement import disagreements
from towzone.files.vessel_tables import Tables
from towzone.model.vessel import Current, GearFigures, Rig
from towzone.units import KNOT_MPS, parse_duration, parse_length, parse_speed

__all__ = ["FIGURES", "FigureForm", "figure_keys", "read_figures"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureForm:
    """What a figure may be.

    Parameters
    ----------
    table, key : str
        Its name in the profile.
    field : str
        Its name in `GearFigures`.
    parse : callable
        From text to a number in ``unit``.
    low, high : float
        Limits, both allowed, in ``unit``.
    unit : str
    what : str
        What to write, for people.
    why : str
        Why the limits are where they are, for people. All of them are own choices: wide enough for every
        vessel that comes to mind, narrow enough for a wrong unit to be seen.
    """

    table: str
    key: str
    field: str
    parse: Callable[[str], float]
    low: float
    high: float
    unit: str
    what: str
    why: str

    def read(self, tables: Tables) -> float | None:
        """Return the figure, ``None`` where it is not stated or was refused."""
        found = tables.quantity(self.table, self.key, self.parse)
        if found is None or self.low <= found <= self.high:
            return found
        tables.refuse(
            f"{self.table}.{self.key}",
            f"is {quoted(tables.value(self.table, self.key))}; allowed is {self.low:g} to {self.high:g} "
            f"{self.unit}: {self.why}. Write {self.what}",
        )
        return None


def _signed_length(text: str) -> float:
    """Return a length that may be negative."""
    bare = text.strip()
    return -parse_length(bare[1:]) if bare.startswith("-") else parse_length(text)


def _winch_speed(text: str) -> float:
    """Return a speed in m/s; nothing else is taken, for in knots it would be that of the vessel."""
    found_kn = parse_speed(text)
    if not text.strip().endswith("m/s"):
        message = (
            f"{quoted(text)} is not how fast warp comes in: write it in m/s, metres a minute over 60: "
            "72 m a minute are 1.2m/s; it is not the speed of the vessel while hauling"
        )
        raise UsageError(message)
    return round(found_kn * KNOT_MPS, 9)  # what is stated in m/s shall come back as it was


def _length(
    key: str, low: float, high: float, what: str, why: str, *, table: str = "gear", signed: bool = False
) -> FigureForm:
    return FigureForm(
        table=table,
        key=key,
        field=f"{key}_m",
        parse=_signed_length if signed else parse_length,
        low=low,
        high=high,
        unit="m",
        what=what,
        why=why,
    )


FIGURES = (
    _length(
        "block_aft", -200, 200, "how far the towing block is behind the antenna (negative: ahead of it)",
        "no fishing vessel is longer", table="position", signed=True,
    ),
    _length(
        "block_starboard", -50, 50, "how far the block is to starboard of the antenna (negative: to port)",
        "no fishing vessel is wider", table="position", signed=True,
    ),
    _length("warp", 10, 4000, "the warp out from block to doors", "no winch holds more, nobody tows on less"),
    _length("clump_warp", 10, 4000, "the middle warp, from block to clump", "as for warp"),
    _length("depth", 1, 3000, "the depth at the doors", "nobody trawls deeper, or on dry land"),
    _length("block_height", 0, 30, "the height of the blocks above the water", "no gallows are higher"),
    _length("block_separation", 0, 60, "how far the blocks are apart", "no vessel and no boom is wider"),
    _length("door_spread", 1, 500, "how far the (outer) doors are apart", "no trawl opens wider"),
    _length(
        "warps_apart", 0.1, 100, "how far the warps are apart, warps_apart_at from the blocks",
        "no more and no less can be measured from the stern",
    ),
    _length(
        "warps_apart_at", 0.5, 500, "how far down the warps, from the blocks, warps_apart was measured",
        "no more and no less can be measured from the stern",
    ),
    _length(
        "sweeps", 0, 600, "sweeps and bridles together, from door to wing-end (0m: doors at the wing-ends)",
        "published rigs have up to 300 m",
    ),
    _length("net_length", 2, 1000, "the net from its wing-ends to the codend", "no net is longer"),
    _length("wing_spread", 1, 300, "how far the wing-ends of one net are apart", "no net opens wider"),
    _length("beam_length", 1, 30, "the length of one beam", "no beam is longer"),
    _length(
        "beams_apart", 0, 80, "how far the middles of the two beams are apart (0m: a single beam)",
        "no booms reach farther",
    ),
    FigureForm(
        table="handling", key="tow_speed", field="tow_speed_kn", parse=parse_speed, low=0.5, high=10.0,
        unit="kn", what="the usual speed over the ground while towing",
        why="nothing is trawled slower or faster",
    ),
    FigureForm(
        table="handling", key="haul_speed", field="heave_speed_mps", parse=_winch_speed, low=0.1, high=5.0,
        unit="m/s", what="how fast the warp comes in", why="no winch heaves slower or faster",
    ),
    FigureForm(
        table="handling", key="shoot_time", field="shoot_time_s", parse=parse_duration, low=10.0,
        high=3.0 * 3600.0, unit="s", what="the time from the net in the water to the brakes on",
        why="nobody shoots in less or takes longer",
    ),
)  # fmt: skip
"""Every figure that states a unit. Published: sweeps up to 300 m, training text of Seafish."""

_DRIFT = FigureForm(
    table="current", key="drift", field="drift_kn", parse=parse_speed, low=0.0, high=8.0, unit="kn",
    what="how fast the water at the gear runs", why="nobody trawls in more",
)  # fmt: skip
_SET = "where the current runs to, degrees true,"


def figure_keys() -> Mapping[str, tuple[str, ...]]:
    """Return the names of all figures of the gear by table, in the order of the profile."""
    keys: dict[str, tuple[str, ...]] = {"position": (), "gear": ("rig",)}
    for form in FIGURES:
        keys[form.table] = (*keys.get(form.table, ()), form.key)
    return MappingProxyType({**keys, "current": ("set_deg", "drift")})


def read_figures(tables: Tables, gear: str | None, *, gear_known: bool) -> GearFigures | None:
    """Return the figures of the gear, ``None`` where the profile has no table ``[gear]``.

    What is wrong with them, or with how they go together, is noted in the tables, be there a table ``[gear]``
    or not.

    Parameters
    ----------
    tables : Tables
    gear : str or None
        Code of the gear that the profile states.
    gear_known : bool
        Whether that code was not refused.
    """
    found = {form.field: form.read(tables) for form in FIGURES}
    figures = GearFigures(rig=tables.word("gear", "rig", Rig), current=_current(tables), **found)
    stated = set(tables.keys("gear"))
    rig_known = gear_known and ("rig" not in stated or figures.rig is not None)
    for where, message in disagreements(figures, gear, stated, rig_known=rig_known):
        tables.refuse(where, message)
    return figures if "gear" in tables else None


def _current(tables: Tables) -> Current | None:
    set_deg = tables.number("current", "set_deg", 0.0, 360.0, _SET)
    drift_kn = _DRIFT.read(tables)
    stated = [key for key in ("set_deg", "drift") if tables.value("current", key) is not None]
    if len(stated) == 1:
        other = "drift" if stated == ["set_deg"] else "set_deg"
        what = "how fast it runs, as in 0.5kn" if other == "drift" else f"{_SET} as a plain number"
        tables.refuse(
            f"current.{stated[0]}", f"is stated without {other}; state {other} too, {what}, or neither"
        )
    if set_deg is None or drift_kn is None:
        return None
    return Current(set_deg=set_deg % 360.0, drift_kn=drift_kn)
