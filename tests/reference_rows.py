"""Reads the tables of reference values, so that every test of them sees the same columns."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "reference"
REQUIRED = ("id", "expected", "unit", "tolerance", "kind", "source", "locator", "note")
KINDS = ("published", "derived-by-hand", "computed")


@dataclass(frozen=True)
class Row:
    """One reference value: its inputs by column name, what is expected and how exactly."""

    id: str
    inputs: dict[str, str]
    expected: str
    unit: str
    tolerance: float

    def number(self, name):
        return float(self.inputs[name])

    @property
    def value(self):
        return float(self.expected)


def tables():
    """Names of all tables, in order."""
    return sorted(path.name for path in FOLDER.glob("*.csv"))


def read_table(name):
    """Rows of a table as dicts of text."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def rows(name, **wanted):
    """Parameters for pytest: the rows of a table whose columns have the wanted texts."""
    chosen = [r for r in read_table(name) if all(r[column] in texts for column, texts in wanted.items())]
    if not chosen:
        message = f"{name} has no rows with {wanted}"
        raise LookupError(message)
    return [
        pytest.param(
            Row(
                r["id"],
                {k: v for k, v in r.items() if k not in REQUIRED},
                r["expected"],
                r["unit"],
                float(r["tolerance"]),
            ),
            id=r["id"],
        )
        for r in chosen
    ]
