"""Which of the dates of a log to believe where they contradict each other."""

from __future__ import annotations

from dataclasses import dataclass, field

from towzone.logs.fixes import TOLERANCE_US

__all__ = ["ROLLOVER_DAYS", "Believed", "Run", "believed_runs"]

ROLLOVER_DAYS = 7168
"""Weeks of satellite navigation are counted to 1024; a receiver that has lost a round of the count is 1024
weeks behind. Published: IS-GPS-200, 20.3.3.3.1.1, from memory."""
_ERA_DAYS = 366
"""Own choice: dates that jump by more than a year are not of one trip, one of them is wrong."""
_DOUBTED_BEFORE_DAY = 10_957
"""2000-01-01. Own choice: before it no log was kept that is checked today; such a clock was not set."""


@dataclass(slots=True, kw_only=True)
class Run:
    """Dates one after another that agree in how many days a clock is off that counts days by midnights.

    Parameters
    ----------
    off : int
        Days.
    first, last : int
        Numbers of the first and the last fix with such a date.
    number : int
        How many have one.
    day : int
        The first of the dates, days since 1970-01-01.
    begin_us, end_us : int
        What that clock counts at the first and the last.
    stretch_first, stretch_last : int
        How many silences were before either.
    wrong : bool
        Not to be believed.
    """

    off: int
    first: int
    last: int
    number: int
    day: int
    begin_us: int = 0
    end_us: int = 0
    stretch_first: int = 0
    stretch_last: int = 0
    wrong: bool = False

    @property
    def short(self) -> bool:
        """Whether it is so short that a date may just have changed late or early."""
        return self.end_us - self.begin_us <= TOLERANCE_US

    def leads_to(self, after: Run) -> bool:
        """Whether there is no silence between the two."""
        return self.stretch_last == after.stretch_first

    def extend(self, after: Run) -> None:
        """Take in a run that agrees with this one."""
        self.last, self.end_us, self.stretch_last = after.last, after.end_us, after.stretch_last
        self.number += after.number


@dataclass(slots=True, kw_only=True)
class Believed:
    """Runs as they are to be taken.

    Parameters
    ----------
    runs : list of Run
        At least one; some may be wrong, none is doubted.
    doubted : list of Run
        Left out; the fixes in them go by those around.
    put_right : dict of int to list of Run
        Those in ``runs`` whose dates were brought forward, by how many days.
    """

    runs: list[Run]
    doubted: list[Run] = field(default_factory=list)
    put_right: dict[int, list[Run]] = field(default_factory=dict)


def believed_runs(runs: list[Run]) -> Believed:
    """Return which runs of dates to believe.

    Parameters
    ----------
    runs : list of Run
        In the order of the file, at least one; they are changed.
    """
    result = Believed(runs=runs)
    _leave_out_glitches(result)
    _put_rounds_right(result)
    _mark_wrong(result.runs)
    return result


def _leave_out_glitches(result: Believed) -> None:
    """Leave out dates of a short while that those on both sides contradict, or at an end those beside."""
    kept: list[Run] = []
    for run in result.runs:
        if len(kept) > 1 and kept[-2].off == run.off and kept[-1].short:
            result.doubted.append(kept.pop())
        if kept and kept[-1].off == run.off:
            kept[-1].extend(run)
        else:
            kept.append(run)
    if len(kept) > 1 and _lags(kept[-1], kept[-2]) and kept[-2].leads_to(kept[-1]):
        result.doubted.append(kept.pop())
    if len(kept) > 1 and _lags(kept[0], kept[1]) and kept[0].leads_to(kept[1]):
        result.doubted.append(kept.pop(0))
    result.runs = kept


def _lags(run: Run, beside: Run) -> bool:
    """Whether a run is what receivers are known for: a date that changes seconds late or early."""
    return run.short and run.number < beside.number and abs(run.off - beside.off) == 1


def _put_rounds_right(result: Believed) -> None:
    """Bring forward the dates that are whole rounds of weeks behind a neighbour they lead over to."""
    runs = result.runs
    for number in range(1, len(runs)):
        before, run = runs[number - 1], runs[number]
        behind = run.off - before.off
        if behind == 0 or behind % ROLLOVER_DAYS or not before.leads_to(run):
            continue
        late = [run]
        if behind > 0:
            # All before that were within a year of the run before are as much behind.
            late = [before]
            for earlier in reversed(runs[: number - 1]):
                if abs(earlier.off - late[-1].off) > _ERA_DAYS:
                    break
                late.append(earlier)
        for one in late:
            one.off += abs(behind)
            one.day += abs(behind)
        result.put_right.setdefault(abs(behind), []).extend(late)


def _mark_wrong(runs: list[Run]) -> None:
    """Mark the runs that are more than a year from the rest of the log.

    Runs that lie within a year of each other make an era. The largest counts, of those after 1999 if there
    are any, and what lies within a year of it; one behind it in the file that is later stays as it is; every
    other one is wrong.
    """
    eras: list[list[Run]] = []
    for run in runs:
        if eras and abs(run.off - eras[-1][-1].off) <= _ERA_DAYS:
            eras[-1].append(run)
        else:
            eras.append([run])
    sizes = [
        (max(run.day for run in era) >= _DOUBTED_BEFORE_DAY, sum(run.number for run in era)) for era in eras
    ]
    main = max(range(len(eras)), key=lambda number: sizes[number])
    first, latest = eras[main][0].off, eras[main][-1].off
    for number, era in enumerate(eras):
        if number < main:
            believed = abs(era[-1].off - first) <= _ERA_DAYS
        else:
            believed = era[0].off - latest >= -_ERA_DAYS
            latest = era[-1].off if believed else latest
        for run in era:
            run.wrong = not believed
