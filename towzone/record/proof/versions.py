"""The versions of everything that a record and its figures were made with."""

from __future__ import annotations

import importlib.metadata

import numpy as np
import pyproj
import shapely

from towzone.model.result import CheckResult
from towzone.record.drawn.coast import Coast
from towzone.record.leaflet import Leaflet

__all__ = ["computed_with", "made_with"]


def made_with(result: CheckResult, leaflet: Leaflet, coast: Coast | None) -> dict[str, str]:
    """Return the versions by name: towzone, what its figures depend on, and what the page is made with."""
    return {
        "towzone": result.version,
        **computed_with(),
        "Leaflet": leaflet.version,
        "folium": importlib.metadata.version("folium"),
        **({} if coast is None else {coast.package: coast.release}),
    }


def computed_with() -> dict[str, str]:
    """Return the versions of the libraries installed here that the last digit of a figure may depend on."""
    return {
        "GEOS": shapely.geos_version_string,
        "PROJ": pyproj.proj_version_str,
        "numpy": np.__version__,
        "pyproj": pyproj.__version__,
        "shapely": shapely.__version__,
    }
