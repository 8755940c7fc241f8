"""The gear of one tow in figures, each with its spread and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from towzone.model.gear import Basis, Figure
from towzone.model.vessel import Current, Rig

__all__ = ["Measured", "NoRigging", "Rigging", "assumed_lines", "figure_words", "plain_amount"]


class Measured(NamedTuple):
    """A figure that was measured for the tow at hand.

    ``basis`` is `Basis.TRACK` or `Basis.HAUL_LOG`, ``source`` says so in words.
    """

    value_m: float
    basis: Basis
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rigging:
    """Everything that says where the gear of a tow is.

    Parameters
    ----------
    rig : Rig
    rig_basis : Basis
    rig_source : str
        Where it comes from that the gear is rigged so, in words.
    gear : str or None
        Code of `towzone.model.gears.GEAR_NAMES`.
    warp, depth, block_height, block_separation, door_spread, sweeps, net_length, wing_spread : Figure
        Metres. Of a beam trawl: ``warp`` to the beam, ``door_spread`` from outer end to outer end of the
        beams, ``wing_spread`` one beam, ``sweeps`` 0, ``block_separation`` the distance of the booms' ends.
        Of a midwater trawl: ``depth`` of the doors.
    clump_warp : Figure
        Of a rig that has no clump, the warp itself.
    block_aft, block_starboard : Figure
        Towing block as seen from the antenna, metres.
    heave_speed, veer_speed : Figure
        Of the warp coming in and going out, m/s.
    tow_speed : Figure
        Knots over the ground.
    beam_length, beams_apart : Figure or None
        Of a beam trawl only; 0 apart is a single beam.
    current : Current or None
    drift_sigma, position, antenna : Figure
        Standard deviations of the current that is not known (knots), of positions and of the block as seen
        from the antenna (metres, each axis). Both ``value`` and ``sigma`` of them are that deviation.
        ``antenna`` is the same as the ``sigma`` of ``block_aft`` and ``block_starboard``: count it once.
    """

    rig: Rig
    rig_basis: Basis
    rig_source: str
    gear: str | None
    warp: Figure
    clump_warp: Figure
    depth: Figure
    block_height: Figure
    block_separation: Figure
    door_spread: Figure
    sweeps: Figure
    net_length: Figure
    wing_spread: Figure
    block_aft: Figure
    block_starboard: Figure
    heave_speed: Figure
    veer_speed: Figure
    tow_speed: Figure
    beam_length: Figure | None
    beams_apart: Figure | None
    current: Current | None
    drift_sigma: Figure
    position: Figure
    antenna: Figure

    def all(self) -> tuple[Figure, ...]:
        """Return the figures that this rig has, in the order of the profile, the deviations last."""
        beam = self.rig is Rig.BEAM
        found = (
            self.warp,
            self.clump_warp if self.rig is Rig.TWIN else None,
            self.depth,
            self.block_height,
            self.block_separation,
            self.door_spread,
            None if beam else self.sweeps,
            self.net_length,
            None if beam else self.wing_spread,
            self.beam_length,
            self.beams_apart,
            self.block_aft,
            self.block_starboard,
            self.tow_speed,
            self.heave_speed,
            self.veer_speed,
            self.drift_sigma,
            self.position,
            self.antenna,
        )
        return tuple(figure for figure in found if figure is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoRigging:
    """Why it cannot be said where the gear of a tow was, and what would help, in a sentence."""

    why: str


_LABELS = {
    "warp": "warp",
    "clump_warp": "warp of the clump",
    "depth": "depth",
    "block_height": "height of the towing blocks above the water",
    "block_separation": "distance between the towing blocks",
    "door_spread": "spread of the doors",
    "sweeps": "sweeps and bridles",
    "net_length": "length of the net",
    "wing_spread": "spread of the wing-ends",
    "beam_length": "length of a beam",
    "beams_apart": "distance between the middles of the beams",
    "block_aft": "towing block behind the antenna",
    "block_starboard": "towing block to starboard of the antenna",
    "tow_speed": "towing speed",
    "haul_speed": "speed at which the warp comes in",
    "veer_speed": "speed at which the warp goes out",
    "drift": "current that is not known",
    "position": "scatter of positions",
    "antenna": "doubt of where the block is as seen from the antenna",
}
_BEAM_LABELS = {"door_spread": "width over the beams"}
_DEVIATIONS = frozenset({"drift", "position", "antenna"})
_UNSURE = frozenset({Basis.ASSUMED, Basis.DERIVED})


_SHORT = {
    "drift": "current not known",
    "position": "position error",
    "antenna": "place of the block",
    "haul_speed": "heaving speed",
    "veer_speed": "veering speed",
}


def figure_words(name: str) -> str:
    """Return the name of a figure in few words, for tables.

    Examples
    --------
    >>> figure_words("door_spread"), figure_words("drift")
    ('door spread', 'current not known')
    """
    return _SHORT.get(name, name.replace("_", " "))


def assumed_lines(rigging: Rigging) -> list[str]:
    """Return a sentence for each figure that nobody stated or measured, beginning with ``ASSUMED:``."""
    lines = []
    if rigging.rig_basis in _UNSURE:
        lines.append(f"ASSUMED: a {rigging.rig.value} rig ({rigging.rig_source}).")
    labels = _LABELS | _BEAM_LABELS if rigging.rig is Rig.BEAM else _LABELS
    return lines + [_line(figure, labels[figure.name]) for figure in rigging.all() if figure.basis in _UNSURE]


def _line(figure: Figure, label: str) -> str:
    unit = figure.unit
    told = f"ASSUMED: {label} {plain_amount(figure.value)} {unit} ({figure.source})"
    if figure.name in _DEVIATIONS:
        return f"{told}, one standard deviation."
    if figure.low is not None and figure.high is not None:
        between = f"{plain_amount(figure.low)} and {plain_amount(figure.high)} {unit}"
        return f"{told}, nineteen times in twenty between {between}."
    return f"{told}, give or take {plain_amount(figure.sigma)} {unit}."


def plain_amount(value: float) -> str:
    """Return a number for people, with no more digits than such figures deserve.

    Examples
    --------
    >>> plain_amount(1234.5), plain_amount(120.0), plain_amount(26.84), plain_amount(0.5), plain_amount(-0.0)
    ('1234', '120', '26.8', '0.5', '0')
    """
    digits = 0 if abs(value) >= 100.0 else 1 if abs(value) >= 10.0 else 2
    text = f"{value + 0.0:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
