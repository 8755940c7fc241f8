"""towzone beside what a competent user would write: ``python tests/bench/bench_alternatives.py [--quick]``.

Printed, never asserted. In one run, on the same data, on one core: an invented trip of ten days at 1 Hz among
540 zones (``--quick``: a twentieth of everything), asked for (a) the least clearance, entries and exits of
every zone within 5 nmi of it, from columns in memory, and (b) the signed clearance of every fix to every zone
within 5 nmi of it. Slow alternatives are timed on every so many fixes of the same trip.

Errors are those against the oracles of the tests, which share no code with the product. Then how fast towzone
starts, and how its cost follows the work (plots go to ``.artefacts/``).
"""

from __future__ import annotations

import argparse
import sys

import cost_of_work
import numpy as np
import seas
import starting
from alternatives.common import REACH_M, Answer, Fixes, Table, answer_of
from alternatives.geodesic import Geodesic
from alternatives.postgis import PostGIS
from alternatives.projected import ByFix, ByZone, Projected
from alternatives.scaled_tree import ScaledTree
from alternatives.trajectories import Trajectories
from exact import Exact
from measuring import Cost, best_of, keep_to_one_core, timed
from product import Product, fixes_of
from tables import show
from workload import trip

FULL = 864_000
WINDOW_FROM = 70_000
"""Where the part of the trip begins whose answers are compared: it goes in and out of zones most there."""
POSTGIS = {False: "PostGIS geography, index on zones", True: "PostGIS geography, indexes on both"}
SAME_ENTRY_S = 60.0
"""Own choice: an entry within a minute of the true one is found."""


class Bench:
    """The data, the truth about a sample of it, and the rows that are printed."""

    def __init__(self, share: float) -> None:
        whole = trip(FULL)
        self.zones = seas.along(whole.lon_deg, whole.lat_deg)
        self.trip = fixes_of(whole).take(slice(0, round(FULL * share)))
        self.window = fixes_of(whole).take(slice(WINDOW_FROM, WINDOW_FROM + 10_000))
        self.exact = Exact(self.zones)
        self.sample = self.every(300 if share == 1.0 else 100)
        self.truth = self.exact.table(self.sample)
        self.answers: list[list[object]] = []
        self.tables: list[list[object]] = []
        self.right = Product(self.zones).answer(self.window)  # which also loads what is compiled
        self._first: dict[str, float] = {}
        self._ratio: dict[tuple[str, str], float] = {}

    def every(self, count: int) -> Fixes:
        """Return so many fixes spread over the trip."""
        return self.trip.take(slice(0, len(self.trip), max(1, len(self.trip) // count)))

    def answered(self, name: str, prepared: Cost, cost: Cost, fixes: int, answer: Answer | None) -> None:
        """Add a row: what an answer about so many fixes cost, and what it says of the window."""
        row = [name, *self._figures("answer", name, prepared, cost, fixes)]
        if answer is not None:
            apart, missing, entries, missed = against(self.right, answer)
            row += [*worst_of(apart), missing, f"{missed} of {entries}"]
        self.answers.append([*row, *[""] * (10 - len(row))])

    def tabled(self, name: str, prepared: Cost, cost: Cost, fixes: int, table: Table) -> None:
        """Add a row: what a table of so many fixes cost, and how wrong it is about the sample."""
        found = table.looked_up(self.truth.fix, self.truth.zone)
        apart = np.abs(found - self.truth.clearance_m)
        wrong_side = int((found * self.truth.clearance_m < 0.0).sum())
        self.tables.append(
            [
                name,
                *self._figures("table", name, prepared, cost, fixes),
                *worst_of(apart),
                int(np.isnan(found).sum()),
                wrong_side,
            ]
        )

    def _figures(self, what: str, name: str, prepared: Cost, cost: Cost, fixes: int) -> list[object]:
        """Return what all of the trip costs, and its ratio to the first of the same kind, towzone."""
        whole_s = prepared.processor_s + cost.processor_s * len(self.trip) / fixes
        first_s = self._first.setdefault(what, whole_s)
        self._ratio[what, name] = whole_s / first_s
        print(f"{what}: {name}: {whole_s:.3g} s", file=sys.stderr, flush=True)
        share = "all" if fixes >= len(self.trip) else f"1 in {round(len(self.trip) / fixes)}"
        return [share, cost.clock_s, whole_s, len(self.trip) / whole_s, whole_s / first_s]

    def bars(self) -> list[list[object]]:
        """Return rows of what is wanted, and how often towzone is as fast as the plain and the best way."""
        rows: list[list[object]] = []
        for what, title, who, plain, wanted in (
            ("answer", "(a) times geopandas", "geopandas", ByFix.name, 50.0),
            ("answer", "(a) times PostGIS", "PostGIS", POSTGIS[False], 1_000.0),
            ("table", "(b) times geopandas", "geopandas", ByFix.name, 5.0),
            ("table", "(b) times PostGIS", "PostGIS", POSTGIS[False], 300.0),
        ):
            ratios = [value for (kind, name), value in self._ratio.items() if kind == what and who in name]
            rows.append([title, f"at least {wanted:,.0f}", self._ratio[what, plain], min(ratios)])
        mine = self.tables[0]
        return [*rows, ["(b) worst error, mm", "under 10", mine[COSTS.index("worst_m")] * 1_000.0, ""]]


def worst_of(apart: np.ndarray) -> tuple[float, float]:
    known = apart[~np.isnan(apart)]
    return (float(np.median(known)), float(known.max())) if len(known) else (np.nan, np.nan)


def against(right: Answer, other: Answer) -> tuple[np.ndarray, int, int, int]:
    """Return errors of clearances, zones not told of, and how many entries there are and are not found."""
    apart = [abs(other.least_m[z] - least) for z, least in right.least_m.items() if z in other.least_m]
    missing = sum(z not in other.least_m for z, least in right.least_m.items() if least < REACH_M - 1.0)
    true = [(zone, moment) for zone, some in right.entries_s.items() for moment in some.tolist()]
    left = {zone: some.tolist() for zone, some in other.entries_s.items()}
    missed = 0
    for zone, moment in true:
        some = left.get(zone, [])
        nearest = min(some, key=lambda found: abs(found - moment), default=None)
        if nearest is None or abs(nearest - moment) > SAME_ENTRY_S:
            missed += 1
        else:
            some.remove(nearest)
    return np.array(apart), missing, len(true), missed


def towzone_rows(bench: Bench, runs: int) -> None:
    """Time towzone, compiled code loaded; boundaries are made anew each time."""
    none = Cost(0.0, 0.0)
    _, cost = best_of(runs, lambda: Product(bench.zones).answer(bench.trip))
    bench.answered("towzone, core", none, cost, len(bench.trip), bench.right)
    _, cost = best_of(runs, lambda: Product(bench.zones).check(bench.trip))
    bench.answered("towzone, all of a check", none, cost, len(bench.trip), bench.right)
    sampled = Product(bench.zones).table(bench.sample)
    _, cost = best_of(runs, lambda: Product(bench.zones).table(bench.trip))
    bench.tabled("towzone", none, cost, len(bench.trip), sampled)
    # Neighbours share work; with fixes far apart there is less to share. What zones cost is not scaled up.
    some = bench.trip.take(slice(0, len(bench.trip), 60))
    product = Product(bench.zones)
    _, first = timed(lambda: product.table(some))
    _, cost = best_of(runs, lambda: product.table(some))
    once = Cost(first.processor_s - cost.processor_s, first.clock_s - cost.clock_s)
    bench.tabled("towzone, a fix a minute", once, cost, len(some), sampled)


def proof(bench: Bench, count: int) -> str:
    """Return how far the least clearances of towzone are from the truth, for some zones."""
    right = bench.right
    known = sorted(right.least_m, key=lambda zone: (len(right.entries_s.get(zone, ())) == 0, zone))[:count]
    apart = [abs(bench.exact.least(zone, bench.window) - right.least_m[zone]) for zone in known]
    return (
        f"Least clearances of towzone against the oracles, {len(known)} zones of the part compared: "
        f"worst {max(apart) * 1000.0:.2f} mm, median {np.median(apart) * 1000.0:.2f} mm."
    )


def fast_rows(bench: Bench) -> None:
    """Time on all of the trip those that are fast enough."""
    for maker in (
        lambda: Projected(bench.zones),
        lambda: ByFix(bench.zones),
        lambda: Projected(bench.zones, 1_000.0),
        lambda: ScaledTree(bench.zones),
    ):
        other, prepared = timed(maker)
        table, cost = timed(lambda other=other: other.table(bench.trip))
        answer, more = timed(lambda table=table: answer_of(table, bench.trip.second))
        del table, answer
        both = Cost(cost.processor_s + more.processor_s, cost.clock_s + more.clock_s)
        bench.answered(other.name, prepared, both, len(bench.trip), other.answer(bench.window))
        bench.tabled(other.name, prepared, cost, len(bench.trip), other.table(bench.sample))
    other, prepared = timed(lambda: ByZone(bench.zones))
    _, cost = timed(lambda: other.answer(bench.trip))
    bench.answered(other.name, prepared, cost, len(bench.trip), other.answer(bench.window))


def slow_rows(bench: Bench, quick: bool) -> None:
    """Time on some of the fixes those that would take an hour."""
    trajectories, prepared = timed(lambda: Trajectories(bench.zones))
    some = bench.every(1_000 if quick else 4_000)
    _, cost = timed(lambda: trajectories.answer(some))
    bench.answered(trajectories.name, prepared, cost, len(some), trajectories.answer(bench.window))
    brute, prepared = timed(lambda: Geodesic(bench.zones))
    some = bench.every(100 if quick else 1_000)
    _, cost = timed(lambda: brute.answer(some))
    # Too slow to be asked about the window.
    bench.answered(brute.name, prepared, cost, len(some), None)
    bench.tabled(brute.name, prepared, cost, len(some), brute.table(bench.sample))


def server_rows(bench: Bench, quick: bool) -> None:
    """Time PostGIS fix by fix, and with an index on the fixes too."""
    server = PostGIS(bench.zones)
    none = Cost(0.0, 0.0)
    try:
        for indexed, count in ((False, 1_000 if quick else 8_000), (True, 2_000 if quick else 40_000)):
            name = POSTGIS[indexed]
            server.take(bench.window, indexed=indexed)
            server.found()
            right = answer_of(server.fetched(), bench.window.second)
            server.take(bench.sample, indexed=indexed)
            server.found()
            sampled = server.fetched()
            some = bench.every(count)
            server.take(some, indexed=indexed)
            _, cost = timed(server.found, server.cpu_s)
            _, more = timed(server.summed, server.cpu_s)
            both = Cost(cost.processor_s + more.processor_s, cost.clock_s + more.clock_s)
            bench.answered(name, none, both, len(some), right)
            bench.tabled(name, none, cost, len(some), sampled)
    finally:
        server.close()


COSTS = (
    "who",
    "fixes timed",
    "clock_s",
    "CPU_s of all",
    "fixes_per_s",
    "towzone = 1",
    "median_m",
    "worst_m",
)


def alternatives(quick: bool, core: int) -> str:
    """Return both tables."""
    bench = Bench(0.05 if quick else 1.0)
    towzone_rows(bench, 2 if quick else 3)
    fast_rows(bench)
    server_rows(bench, quick)
    slow_rows(bench, quick)
    near = len(bench.truth.fix) / len(bench.sample)
    about = (
        f"{len(bench.trip):,} fixes at 1 Hz, {len(bench.zones)} zones, {seas.vertices_of(bench.zones):,} "
        f"vertices, {near:.1f} zones within 5 nmi of a fix; one core (number {core})."
    )
    return "\n".join(
        [
            show(
                "(a) Least clearance, entries and exits of every zone within 5 nmi",
                (*COSTS, "zones missed", "entries missed"),
                bench.answers,
                [
                    about,
                    "CPU_s of all: processor seconds for all of the trip, zones made ready included; of slow "
                    "ones scaled up from every so many fixes of it.",
                    f"Errors and entries: {len(bench.window):,} fixes in a row, against towzone; an entry is "
                    f"found that is told within {SAME_ENTRY_S:.0f} s of the true one.",
                    proof(bench, 12 if quick else 40),
                ],
            ),
            show(
                "(b) Signed clearance of every fix to every zone within 5 nmi",
                (*COSTS, "pairs missed", "wrong side"),
                bench.tables,
                [
                    about,
                    f"Errors: {len(bench.truth.fix):,} pairs of {len(bench.sample)} fixes, by the oracles.",
                ],
            ),
            show(
                "Bars: how many times as long others take",
                ("what", "wanted", "the plain way", "the best way"),
                bench.bars(),
                [
                    f"Plain: '{ByFix.name}' and '{POSTGIS[False]}', fix by fix. Best: the fastest of all "
                    "ways with the same library; they go zone by zone, so that each is made ready once.",
                ],
            ),
        ]
    )


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--quick", action="store_true", help="a twentieth of everything")
    asked.add_argument("--only", choices=("alternatives", "starting", "work"), help="one part alone")
    options = asked.parse_args()
    core = keep_to_one_core()
    if options.only in (None, "alternatives"):
        print(alternatives(options.quick, core), flush=True)
    if options.only in (None, "starting"):
        print(starting.report(options.quick), flush=True)
    if options.only in (None, "work"):
        print(cost_of_work.report(options.quick), flush=True)


if __name__ == "__main__":
    main()
