"""How vessels are given out to workers: each once, the largest first, fewer and fewer at the end."""

from __future__ import annotations

import contextlib

from cli_runner import call
from fleet_audits import fleet, lines, vessel, write_parquet, write_zones

from towzone.fleet import workers
from towzone.fleet.tasks import check_vessels


class TwoWorkers(workers.Here):
    """Works in this process as if it were two, and keeps what each task was given."""

    count = 2

    def __init__(self):
        self.groups = []

    def each(self, function, items):
        kept = list(items)
        if function is check_vessels:
            self.groups += [group for _, _, group in kept]
        return super().each(function, kept)


def test_vessels_are_given_out_each_once_and_fewer_at_the_end(tmp_path, monkeypatch):
    doing = TwoWorkers()
    monkeypatch.setattr(workers, "local_workers", lambda *_: contextlib.nullcontext(doing))
    names = [f"Invented {number:02d}" for number in range(40)]
    vessels = fleet(names, fixes=12)
    vessels[7] = vessel(names[7], 7, fixes=60)
    write_zones(tmp_path / "zones.geojson")
    write_parquet(tmp_path / "positions.parquet", vessels)
    ran = call("fleet", "positions.parquet", "--zones", "zones.geojson", "-o", "out", cwd=tmp_path)

    assert ran.code in (0, 1, 4), ran.err
    assert list(lines(tmp_path / "out")) == names
    assert sorted(task.vessel for group in doing.groups for task in group) == names
    given = [[task.fixes for task in group] for group in doing.groups]
    assert given[0] == [60]
    sizes = [len(group) for group in given[1:]]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > 2
    assert sizes[-2:] == [1, 1]
