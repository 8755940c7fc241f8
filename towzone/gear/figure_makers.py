"""Short ways to make a figure of the gear: stated in the profile, measured, derived, assumed."""

from __future__ import annotations

from towzone.gear.defaults import Default
from towzone.gear.rigging import Measured
from towzone.model.gear import Basis, Figure

__all__ = ["PROFILE", "Contradiction", "assumed", "derived", "measured", "stated"]

PROFILE = "vessel profile"


class Contradiction(Exception):
    """Figures of a tow cannot be true together; the message says which, and what to do."""


def stated(
    name: str, value: float | None, sigma: float, *, unit: str = "m", source: str = PROFILE
) -> Figure | None:
    """Return a figure of the profile, ``None`` where the profile does not state it."""
    if value is None:
        return None
    return Figure(name=name, value=value, sigma=sigma, unit=unit, basis=Basis.STATED, source=source)


def measured(name: str, found: Measured, sigma: float) -> Figure:
    """Return a figure that was measured for the tow."""
    value, basis, source = found
    return Figure(name=name, value=value, sigma=sigma, unit="m", basis=basis, source=source)


def derived(
    name: str,
    value: float,
    sigma: float,
    source: str,
    *,
    unit: str = "m",
    limits: tuple[float, float] | None = None,
) -> Figure:
    """Return a figure that follows from others.

    Parameters
    ----------
    limits : (float, float) or None
        Where the spread is lopsided: values between which it lies nineteen times in twenty.
    """
    low, high = limits or (None, None)
    return Figure(
        name=name,
        value=value,
        sigma=sigma,
        unit=unit,
        basis=Basis.DERIVED,
        source=source,
        low=low,
        high=high,
    )


def assumed(name: str, default: Default, *, unit: str = "m") -> Figure:
    """Return a default."""
    source = f"no figure in the profile; {default.source}"
    return Figure(
        name=name, value=default.value, sigma=default.sigma, unit=unit, basis=Basis.ASSUMED, source=source
    )
