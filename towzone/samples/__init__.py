"""The invented samples that come with towzone, wherever it is installed."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from towzone.errors import TowzoneError

__all__ = ["sample_files"]

_FOLDERS = {"sample_zones": (".geojson",), "sample_tracks": (".csv", ".gpx", ".nmea", ".toml")}
_CHECKOUT = Path(__file__).resolve().parents[2]


def sample_files() -> dict[str, Traversable]:
    """Return every sample by its name, zones first, in a fixed order.

    Returns
    -------
    dict of str to Traversable
        From names such as ``"sample_zones/greywether_bank.geojson"``, the same as in a checkout, to readable
        resources (``read_bytes()``).

    Raises
    ------
    TowzoneError
        The samples were not installed with the package.

    Examples
    --------
    >>> list(sample_files())[0]
    'sample_zones/greywether_bank.geojson'
    """
    found: dict[str, Traversable] = {}
    for folder, suffixes in _FOLDERS.items():
        place = _folder(folder)
        samples = sorted(item.name for item in place.iterdir() if item.name.endswith(suffixes))
        found |= {f"{folder}/{name}": place.joinpath(name) for name in samples}
    return found


def _folder(name: str) -> Traversable:
    # A wheel holds the samples inside this package; a checkout keeps them at its top, where readers look.
    installed = files(__name__).joinpath(name)
    for place in (installed, _CHECKOUT.joinpath(name)):
        if place.is_dir():
            return place
    message = f"the folder {name} is missing from this installation; install towzone again"
    raise TowzoneError(message)
