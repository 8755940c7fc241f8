"""Cost against work, both by powers of ten: as a picture, as text, and as slopes."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

MARKS = "ox+*#@"
COLUMNS, ROWS = 64, 20


@dataclass(frozen=True, slots=True)
class Line:
    """Costs of growing work, by name."""

    name: str
    work: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)

    def slope(self) -> float:
        """Return the slope of log(time) against log(work) by least squares; 1 is a cost like the work."""
        return (
            float(np.polyfit(np.log(self.work), np.log(self.seconds), 1)[0]) if len(self.work) > 1 else np.nan
        )

    def last_slope(self) -> float:
        """Return the slope over the last step, where what every run costs counts least."""
        if len(self.work) < 2:
            return np.nan
        return float(np.diff(np.log(self.seconds[-2:]))[0] / np.diff(np.log(self.work[-2:]))[0])

    def a_million_more_s(self) -> list[float]:
        """Return what a million more cost from step to step: on a straight line always the same."""
        return (1e6 * np.diff(self.seconds) / np.diff(self.work)).tolist()


def picture(path: Path, title: str, unit: str, cost: str, lines: list[Line]) -> None:
    """Draw lines on logarithmic scales."""
    import matplotlib as mpl

    mpl.use("svg")
    from matplotlib import pyplot as plt

    path.parent.mkdir(exist_ok=True)
    figure, axes = plt.subplots(figsize=(8.0, 6.0))
    for number, line in enumerate(lines):
        axes.loglog(line.work, line.seconds, marker="osD^v<>"[number % 7], label=line.name)
    axes.set(title=title, xlabel=unit, ylabel=cost)
    axes.grid(visible=True, which="both", alpha=0.3)
    axes.legend()
    figure.savefig(path)
    plt.close(figure)


def text(unit: str, lines: list[Line]) -> str:
    """Return lines as text: a step to the right is as much more work as a step up is more time."""
    x = np.log10(np.concatenate([line.work for line in lines]))
    y = np.log10(np.concatenate([line.seconds for line in lines]))
    drawn = [[" "] * COLUMNS for _ in range(ROWS)]
    for number, line in enumerate(lines):
        for work, seconds in zip(np.log10(line.work), np.log10(line.seconds), strict=True):
            column = round((work - x.min()) / max(np.ptp(x), 1e-9) * (COLUMNS - 1))
            row = round((seconds - y.min()) / max(np.ptp(y), 1e-9) * (ROWS - 1))
            drawn[ROWS - 1 - row][column] = MARKS[number % len(MARKS)]
    top, bottom = (f"{10.0**value:9.3g} s |" for value in (y.max(), y.min()))
    edges = [top, *[" " * 11 + "|"] * (ROWS - 2), bottom]
    said = [edge + "".join(row).rstrip() for edge, row in zip(edges, drawn, strict=True)]
    ends = f"{10.0 ** x.min():g}".ljust(COLUMNS - 12) + f"{10.0 ** x.max():g}".rjust(12)
    keys = [f"{MARKS[number % len(MARKS)]} {line.name}" for number, line in enumerate(lines)]
    return "\n".join([*said, " " * 11 + "+" + "-" * COLUMNS, " " * 12 + ends + f"  {unit}", "", *keys, ""])
