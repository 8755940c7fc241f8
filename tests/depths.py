"""Deepest points as rows, for tests that look at single ones."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from towzone.geodesy.depth import deepest_of_each


class DeepestPoint(NamedTuple):
    depth_m: float
    piece: int
    part: float
    lon_deg: float
    lat_deg: float
    edge_lon_deg: float
    edge_lat_deg: float


def deepest_rows(path, path_owner, stays, counts, edge, edge_owner):
    """The deepest points of several sets of stays."""
    found = deepest_of_each(path, path_owner, stays, counts, edge, edge_owner)
    columns = (getattr(found, name).tolist() for name in DeepestPoint._fields)
    return [DeepestPoint(*row) for row in zip(*columns, strict=True)]


def deepest(path, path_owner, stays, edge, edge_owner):
    """The deepest point on stays of one path that are known to be inside one area."""
    counts, path_owner, edge_owner = (np.array([n]) for n in (len(stays.first), path_owner, edge_owner))
    return deepest_rows(path, path_owner, stays, counts, edge, edge_owner)[0]
