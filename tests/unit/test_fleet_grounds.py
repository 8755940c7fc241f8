"""Zones handed on to workers are those that were read, and nothing else is taken for them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from cli_runner import BANK, RISE, ROOT
from fleet_audits import audit, fleet, lines, write_parquet, write_zones

from towzone.errors import OutputError
from towzone.files.zone_sets import read_zone_files
from towzone.fleet import handing
from towzone.fleet.grounds import grounds_of
from towzone.fleet.handing import hand_on


@pytest.fixture
def zones():
    return read_zone_files([str(ROOT / BANK), str(ROOT / RISE)], None).zones


@pytest.mark.parametrize("vessels", [1, 100])
def test_zones_come_out_as_they_went_in(tmp_path, zones, vessels):
    known = grounds_of(hand_on(tmp_path / "zones", zones, vessels))

    assert len(known.zones) == len(zones)
    for one, other in zip(zones, known.zones, strict=True):
        fields = [name for name in one.__slots__ if name != "shape"]
        assert [getattr(one, name) for name in fields] == [getattr(other, name) for name in fields]
        for (corners, closed), (same, also) in zip(one.shape.strings(), other.shape.strings(), strict=True):
            assert closed == also
            np.testing.assert_array_equal(corners, same)
    first = [next(zone.shape.strings())[0][0].tolist() for zone in zones]
    assert known.corners.tolist() == first


def test_boundaries_are_the_same_cut_at_once_or_as_they_are_asked_for(tmp_path, zones):
    sides = []
    for number, vessels in enumerate((1, 100)):
        known = grounds_of(hand_on(tmp_path / str(number), zones, vessels))
        sides.append([known.boundaries.measured(np.array([zone])) for zone in range(len(zones))][-1])
    one, other = (
        sorted(zip(side.pieces.owner.tolist(), side.pieces.edge.tolist(), strict=True)) for side in sides
    )

    assert one == other


@pytest.mark.parametrize("spoil", [lambda data: data[:-1], lambda data: data[::-1], None])
def test_what_is_something_else_is_refused(tmp_path, zones, spoil):
    handed = hand_on(tmp_path / "zones", zones, 1)
    place = Path(handed.place)
    if spoil is None:
        place.unlink()
    else:
        place.write_bytes(spoil(place.read_bytes()))

    with pytest.raises(OutputError, match="zones"):
        grounds_of(handed)


def test_an_audit_whose_workers_do_not_see_the_zones_calls_nobody_clear(tmp_path, monkeypatch):
    write_zones(tmp_path / "zones.geojson")
    write_parquet(tmp_path / "positions.parquet", fleet())
    monkeypatch.setattr(handing, "put_in_place", lambda *_: None)
    ran = audit("positions.parquet", "zones.geojson", "out", cwd=tmp_path)

    assert ran.code == 4, ran.err
    assert {line["outcome"] for line in lines(tmp_path / "out").values()} == {"not_checked"}
    assert all("cannot be read by a worker" in line["problem"] for line in lines(tmp_path / "out").values())
