"""How far doors and wing-ends are apart where nobody measured it: published formulas, and the defaults.

A spread from here is an assumption to be shown, with its standard deviation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

from towzone.errors import UsageError, quoted
from towzone.gear.amounts import amount
from towzone.geodesy.ellipsoid import FloatArray
from towzone.model.vessel import Rig

__all__ = [
    "DEPTH_FITS",
    "SIZE_FORMULAS",
    "SURVEY_FORMULAS",
    "DepthFit",
    "Estimate",
    "SizeFormula",
    "SurveyFormula",
    "default_spread_m",
    "default_wing_spread_m",
    "spread_by_depth_fit_m",
    "spread_by_survey_formula_m",
    "spread_by_vessel_size_m",
]


_Formula = TypeVar("_Formula")


class Estimate(NamedTuple):
    """Estimated values with their standard deviations, metres; arrays of one shape."""

    value_m: FloatArray
    sigma_m: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyFormula:
    """A door spread ``constant + a D + b ln D + c ln W + d w + e exp(-r D)``, metres.

    ``D`` depth, ``W`` warp, ``w`` wing spread; ``depth``, ``ln_depth``, ``ln_warp``, ``wing``, ``decaying``
    and ``decay_rate`` are the coefficients a, b, c, d, e and r. ``rechecked`` is the number of hauls whose
    spread, as ICES published it, the formula gives within 0.1 m (own evaluation; 0: read in code only).
    """

    constant: float
    depth: float = 0.0
    ln_depth: float = 0.0
    ln_warp: float = 0.0
    wing: float = 0.0
    decaying: float = 0.0
    decay_rate: float = 0.0
    rechecked: int = 0

    @property
    def needs(self) -> tuple[str, ...]:
        """Which of depth_m, warp_m and wing_spread_m the formula is of."""
        uses = {
            "depth_m": self.depth or self.ln_depth or self.decaying,
            "warp_m": self.ln_warp,
            "wing_spread_m": self.wing,
        }
        return tuple(name for name, used in uses.items() if used)


SURVEY_DEPTHS_M = (20.0, 250.0)
"""Depths of the North Sea bottom trawl survey the formulas are good for. Own choice, from its hauls: one
formula is negative above 26 m."""

_LG = 1.0 / np.log(10.0)
"""Turns a coefficient of a decimal logarithm into one of a natural one."""

SURVEY_FORMULAS: Mapping[str, SurveyFormula] = MappingProxyType(
    {
        "dk-short-sweeps": SurveyFormula(constant=79.386, decaying=-33.695, decay_rate=0.028, rechecked=38),
        "dk-long-sweeps": SurveyFormula(constant=104.502, decaying=-316.682, decay_rate=0.043, rechecked=3),
        "fr": SurveyFormula(constant=47.548, depth=0.296, rechecked=45),
        "se-short-sweeps": SurveyFormula(constant=26.853, ln_depth=13.706, rechecked=12),
        "se-long-sweeps": SurveyFormula(constant=-67.157, ln_warp=29.489),
        "nl-to-2004": SurveyFormula(
            constant=-3.456, ln_depth=29.544 * _LG, ln_warp=14.116 * _LG, rechecked=16
        ),
        "nl-2005-2014": SurveyFormula(
            constant=29.321, ln_depth=31.165 * _LG, ln_warp=0.2974 * _LG, rechecked=36
        ),
        "nl-from-2017": SurveyFormula(
            constant=-24.793, ln_depth=15.842 * _LG, ln_warp=30.868 * _LG, rechecked=13
        ),
        "gb-depth": SurveyFormula(constant=12.6399, ln_depth=15.0306),
        "gb-warp": SurveyFormula(constant=-47.2, ln_warp=21.78),
        "gb-wing": SurveyFormula(constant=-15.966, wing=4.616, rechecked=59),
        "gb-sct-warp": SurveyFormula(constant=-60.895, ln_warp=24.481),
        "gb-sct-wing": SurveyFormula(constant=-3.784, wing=4.3277, rechecked=8),
        "de-short-sweeps": SurveyFormula(constant=-7.456, ln_depth=3.124, wing=3.616, rechecked=39),
        "de-long-sweeps": SurveyFormula(constant=-0.441, ln_depth=4.768, ln_warp=10.009),
    }
)
"""ICES, swept-area algorithms of the North Sea bottom trawl survey: formulas for door spreads that were not
measured, read in public code of these algorithms. One of 2015-2016, of which two versions disagree, is left
out. Sweeps are short to 60 m (``de``: 50 m)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeFormula:
    """A door spread from the size of a vessel: ``factor size^power + constant``; ``of`` ``kW`` or ``m``.

    ``vessels`` is how many it was fitted to; single and twin rigs together (from memory).
    """

    of: str
    factor: float
    power: float = 1.0
    constant: float = 0.0
    vessels: int


SIZE_FORMULAS: Mapping[str, SizeFormula] = MappingProxyType(
    {
        "OT_CRU": SizeFormula(of="kW", factor=5.2101805, power=0.4649839, vessels=124),
        "OT_DMF": SizeFormula(of="m", factor=8.0831287, power=0.8603214, vessels=39),
        "OT_MIX": SizeFormula(of="kW", factor=10.6607888, power=0.292055, vessels=94),
        "OT_MIX_CRU": SizeFormula(of="kW", factor=26.6738, power=0.2102, vessels=45),
        "OT_MIX_CRU_DMF": SizeFormula(of="m", factor=3.9272776, constant=35.8253722, vessels=53),
        "OT_MIX_DMF_BEN": SizeFormula(of="m", factor=3.2141, constant=77.9812, vessels=48),
        "OT_MIX_DMF_PEL": SizeFormula(of="m", factor=6.6371, power=0.7706, vessels=190),
        "OT_SPF": SizeFormula(of="m", factor=0.9652, constant=68.3890, vessels=19),
    }
)
"""Eigaard et al. 2016, ICES J. Mar. Sci. 73 Suppl. 1: i27-i43, coefficients as coded by the ICES working
group on spatial fisheries data 2015; metres, from engine power or length over all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthFit:
    """A measured door spread ``constant + ln_depth ln D`` between two depths, and the wing spread beside it.

    ``sigma_m`` is the standard deviation about the fit; ``wing_share`` the median of wing over door spread,
    ``None`` where it was not evaluated.
    """

    constant: float
    ln_depth: float
    sigma_m: float
    shallowest_m: float
    deepest_m: float
    wing_share: float | None


DEPTH_FITS: Mapping[str, DepthFit] = MappingProxyType(
    {
        "gov-short-sweeps": DepthFit(
            constant=18.66, ln_depth=13.33, sigma_m=8.3, shallowest_m=30.0, deepest_m=300.0, wing_share=0.258
        ),
        "gov-long-sweeps": DepthFit(
            constant=50.86, ln_depth=10.97, sigma_m=12.4, shallowest_m=75.0, deepest_m=500.0, wing_share=0.196
        ),
        "baca": DepthFit(
            constant=-6.74, ln_depth=19.66, sigma_m=6.7, shallowest_m=30.0, deepest_m=500.0, wing_share=0.208
        ),
        "monkfish": DepthFit(
            constant=20.29, ln_depth=13.95, sigma_m=5.3, shallowest_m=75.0, deepest_m=500.0, wing_share=0.308
        ),
        "rockhopper": DepthFit(
            constant=7.79, ln_depth=7.63, sigma_m=2.6, shallowest_m=30.0, deepest_m=150.0, wing_share=0.408
        ),
        "porcupine-baca": DepthFit(
            constant=-43.28,
            ln_depth=30.60,
            sigma_m=14.9,
            shallowest_m=200.0,
            deepest_m=500.0,
            wing_share=None,
        ),
    }
)
"""ICES survey hauls 2004-2021, own evaluation, by gear and within the depths that have hauls of it."""

_DEFAULT_FIT = DEPTH_FITS["gov-short-sweeps"]
"""Own choice: of the gears evaluated the middle one, and the commonest."""

_SIGMA_GUESSED_M = 12.0
"""Of a single rig: own choice, from residuals of 3 to 15 m within one gear."""

_TWIN_FACTOR = 2.0 * (1.0 - 1.0 / 3.0)
"""Each of two nets is about a third smaller than the one it replaces (Seafish, gear page on twin rigs); that
the width goes with the net is an own derivation."""

_SIGMA_TWIN_M = 20.0
"""Own derivation: 4/3 of 12 m, and 10 to 12 m more because nets are a quarter (trial in the Gulf of St
Lawrence) to a third smaller."""

_WING_SHARES = np.array([fit.wing_share for fit in DEPTH_FITS.values() if fit.wing_share is not None])
_WING_SHARE = float(np.median(_WING_SHARES))
_WING_SHARE_SIGMA = float(np.std(_WING_SHARES, ddof=1))
"""Of the medians of five gears (own derivation): gears differ more than hauls of one."""


def spread_by_survey_formula_m(
    name: str,
    *,
    depth_m: npt.ArrayLike | None = None,
    warp_m: npt.ArrayLike | None = None,
    wing_spread_m: npt.ArrayLike | None = None,
) -> FloatArray:
    """Return the door spread by one of `SURVEY_FORMULAS`; only what the formula ``needs`` is looked at.

    Raises
    ------
    UsageError
        For an unknown name, where something needed is missing, or for depths outside 20 to 250 m.

    Examples
    --------
    >>> round(float(spread_by_survey_formula_m("fr", depth_m=50.0)), 1)
    62.3
    """
    formula = _named(SURVEY_FORMULAS, name)
    given = {"depth_m": depth_m, "warp_m": warp_m, "wing_spread_m": wing_spread_m}
    missing = [need for need in formula.needs if given[need] is None]
    if missing:
        message = f"door spread by formula {name!r}: {' and '.join(missing)} not given; state it"
        raise UsageError(message)
    spread = np.asarray(formula.constant)
    if depth_m is not None and "depth_m" in formula.needs:
        depth = amount("depth", depth_m, least=SURVEY_DEPTHS_M[0], most=SURVEY_DEPTHS_M[1])
        decaying = formula.decaying * np.exp(-formula.decay_rate * depth)
        spread = spread + formula.depth * depth + formula.ln_depth * np.log(depth) + decaying
    if warp_m is not None and "warp_m" in formula.needs:
        spread = spread + formula.ln_warp * np.log(amount("warp", warp_m, above=0.0))
    if wing_spread_m is not None and "wing_spread_m" in formula.needs:
        spread = spread + formula.wing * amount("wing spread", wing_spread_m, above=0.0)
    return amount(f"door spread by formula {quoted(name)}", spread, above=0.0)


def spread_by_vessel_size_m(name: str, size: npt.ArrayLike) -> FloatArray:
    """Return the total width between the doors by one of `SIZE_FORMULAS`.

    Parameters
    ----------
    name : str
    size : float or array
        Engine power in kW or length over all in metres, as the formula says (``of``).

    Raises
    ------
    UsageError
        For an unknown name, or a size of nothing.
    """
    formula = _named(SIZE_FORMULAS, name)
    what = "engine power" if formula.of == "kW" else "length over all"
    measured = amount(what, size, unit=formula.of, above=0.0)
    return np.asarray(formula.factor * measured**formula.power + formula.constant)


def spread_by_depth_fit_m(name: str, depth_m: npt.ArrayLike) -> Estimate:
    """Return the door spread by one of `DEPTH_FITS`; beyond its depths, that at the nearest of them.

    Raises
    ------
    UsageError
        For an unknown name, or a depth of nothing.
    """
    return _by_fit(_named(DEPTH_FITS, name), depth_m)


def default_spread_m(depth_m: npt.ArrayLike, rig: Rig) -> Estimate:
    """Return the door spread taken when none is stated: of a twin rig from outer door to outer door.

    A single rig: as the survey trawl with short sweeps in that depth (30 m where it is shallower, 300 m where
    it is deeper), give or take 12 m. A twin rig: four thirds of it, give or take 20 m.

    Raises
    ------
    UsageError
        For a depth of nothing, and for beam trawls, which have no doors.
    """
    if rig not in (Rig.SINGLE, Rig.TWIN):
        message = (
            f"door spread of a rig {quoted(rig)}: only {Rig.SINGLE.value!r} and {Rig.TWIN.value!r} have "
            "doors; state the length of the beam instead"
        )
        raise UsageError(message)
    single = _by_fit(_DEFAULT_FIT, depth_m).value_m
    factor, sigma = (_TWIN_FACTOR, _SIGMA_TWIN_M) if rig is Rig.TWIN else (1.0, _SIGMA_GUESSED_M)
    return Estimate(np.asarray(factor * single), np.full(single.shape, sigma))


def default_wing_spread_m(door_spread_m: npt.ArrayLike) -> Estimate:
    """Return the distance between the wing-ends of one net taken when none is stated.

    0.258 of the spread of its doors, the median of five survey gears (0.196 to 0.408), give or take 0.086 of
    it. Of a twin rig give the spread of one net, door to clump.

    Raises
    ------
    UsageError
        For spreads below 0.
    """
    doors = amount("door spread", door_spread_m, least=0.0)
    return Estimate(np.asarray(_WING_SHARE * doors), np.asarray(_WING_SHARE_SIGMA * doors))


def _by_fit(fit: DepthFit, depth_m: npt.ArrayLike) -> Estimate:
    depth = np.clip(amount("depth", depth_m, above=0.0), fit.shallowest_m, fit.deepest_m)
    value = np.asarray(fit.constant + fit.ln_depth * np.log(depth))
    return Estimate(value, np.full(value.shape, fit.sigma_m))


def _named(formulas: Mapping[str, _Formula], name: str) -> _Formula:
    if name not in formulas:
        message = f"no formula is called {quoted(name)}; there are {', '.join(formulas)}"
        raise UsageError(message)
    return formulas[name]
