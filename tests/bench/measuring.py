"""One core for everybody, and what things cost: processor and clock, memory of a tree of processes."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
ROOT = Path(__file__).resolve().parents[2]
ARTEFACTS = ROOT / ".artefacts"
"""Ignored by git; plots go there."""


def keep_to_one_core() -> int:
    """Keep this process and all that it starts to one core, and return its number.

    Libraries decide when they are loaded how many threads they use; so the program is begun anew.
    """
    core = max(os.sched_getaffinity(0))
    if len(os.sched_getaffinity(0)) > 1 or any(os.environ.get(name) != "1" for name in THREADS):
        os.sched_setaffinity(0, {core})
        os.environ.update(dict.fromkeys(THREADS, "1"))
        sys.stdout.flush()
        os.execv(sys.executable, [sys.executable, *sys.argv])
    return core


@dataclass(frozen=True, slots=True)
class Cost:
    """Seconds of the processor and of the clock."""

    processor_s: float
    clock_s: float


def timed(work: Callable[[], Any], used_s: Callable[[], float] = time.process_time) -> tuple[Any, Cost]:
    """Return what work came to, and what it cost by a counter of processor time."""
    before_s, begun_s = used_s(), time.perf_counter()
    result = work()
    return result, Cost(used_s() - before_s, time.perf_counter() - begun_s)


def best_of(runs: int, work: Callable[[], Any]) -> tuple[Any, Cost]:
    """Return what work came to, and its cheapest run."""
    done = [timed(work) for _ in range(runs)]
    return done[-1][0], min((cost for _, cost in done), key=lambda cost: cost.processor_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """A program that has run: what it cost, the most memory of all its processes together, what it said."""

    cost: Cost
    peak_pss_mb: float
    peak_rss_mb: float
    code: int
    output: str


def run_program(*words: str, environment: dict[str, str] | None = None, watch: bool = False) -> Ran:
    """Run a program to its end; with ``watch`` its memory is looked at several times a second."""
    before_s, begun_s = _children_s(), time.perf_counter()
    process = subprocess.Popen(
        words,
        cwd=ROOT,
        env=_plain(environment or {}),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    watcher = _Watcher(process.pid) if watch else None
    output, _ = process.communicate()
    clock_s = time.perf_counter() - begun_s
    pss_mb, rss_mb = watcher.stop() if watcher is not None else (0.0, 0.0)
    return Ran(
        cost=Cost(_children_s() - before_s, clock_s),
        peak_pss_mb=pss_mb,
        peak_rss_mb=rss_mb,
        code=process.returncode,
        output=output.decode("utf-8", "replace"),
    )


def towzone(*words: str) -> tuple[str, ...]:
    """Return the words that run towzone as a process of its own."""
    return (sys.executable, "-m", "towzone", *words)


def _plain(more: dict[str, str]) -> dict[str, str]:
    """Return the environment of a usual shell, in which compiled modules are kept."""
    return {**{k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}, **more}


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


class _Watcher:
    """Looks at the memory of a process and all below it until told to stop.

    Proportional set sizes (PSS) share out pages that several processes hold; resident sizes (RSS) count them
    for each.
    """

    EVERY_S = 0.2

    def __init__(self, pid: int) -> None:
        self._pid, self._peak_kb, self._done = pid, [0, 0], threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)
        self._thread.start()

    def stop(self) -> tuple[float, float]:
        self._done.set()
        self._thread.join()
        return self._peak_kb[0] / 1024.0, self._peak_kb[1] / 1024.0

    def _watch(self) -> None:
        while not self._done.wait(self.EVERY_S):
            sums = [0, 0]
            for pid in tree_of(self._pid):
                for at, value in enumerate(_memory_kb(pid)):
                    sums[at] += value
            self._peak_kb = [max(a, b) for a, b in zip(self._peak_kb, sums, strict=True)]


def tree_of(pid: int) -> list[int]:
    """Return a process and all that it and its children started."""
    found, after = [], [pid]
    while after:
        one = after.pop()
        found.append(one)
        try:
            for task in Path(f"/proc/{one}/task").iterdir():
                after += map(int, (task / "children").read_text(encoding="ascii").split())
        except OSError:  # it has ended meanwhile
            continue
    return found


def used_s(pid: int) -> float:
    """Return the seconds of the processor that a process and all below it have used so far."""
    ticks = 0
    for one in tree_of(pid):
        try:
            after_name = Path(f"/proc/{one}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
        except OSError:  # it has ended meanwhile
            continue
        ticks += int(after_name[11]) + int(after_name[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def _memory_kb(pid: int) -> tuple[int, int]:
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii")
    except OSError:  # it has ended meanwhile
        return 0, 0
    values = {line.split(":")[0]: int(line.split()[1]) for line in text.splitlines()[1:]}
    return values.get("Pss", 0), values.get("Rss", 0)
