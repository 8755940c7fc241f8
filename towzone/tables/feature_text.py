"""Features and collections of GeoJSON (RFC 7946) as text, with the caution beside them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from towzone.caution import CAUTION

__all__ = ["collection_text", "feature_as_data"]

_ROUNDED_DEG = 1e-7
"""A centimetre or so; drawing needs no more."""


def feature_as_data(properties: dict[str, Any], geometry: BaseGeometry | None) -> dict[str, Any]:
    """Return one feature; without a geometry where there is none to be drawn."""
    shape = None
    if geometry is not None:
        shape = json.loads(
            shapely.to_geojson(shapely.set_precision(geometry, _ROUNDED_DEG, mode="pointwise"))
        )
    return {"type": "Feature", "properties": properties, "geometry": shape}


def collection_text(features: Sequence[dict[str, Any]], about: str) -> str:
    """Return a FeatureCollection that says what it is, in foreign members (RFC 7946, section 6.1)."""
    collection = {"type": "FeatureCollection", "about": about, "caution": CAUTION, "features": [*features]}
    return json.dumps(collection, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"
