"""Every reference value says where it comes from; a row without a source is refused."""

from __future__ import annotations

import math

import pytest
from reference_rows import KINDS, REQUIRED, read_table, tables


def faults(row):
    """What is wrong with a row of reference values, as words."""
    found = [f"column {name!r} is missing" for name in REQUIRED if row.get(name) is None]
    if found:
        return found
    found = [f"{name} is empty" for name in REQUIRED if name != "note" and not row[name].strip()]
    if row["kind"] not in KINDS:
        found.append(f"kind {row['kind']!r} is not one of {', '.join(KINDS)}")
    try:
        tolerance = float(row["tolerance"])
    except ValueError:
        found.append("tolerance is not a number")
    else:
        if not (math.isfinite(tolerance) and tolerance >= 0.0):
            found.append("tolerance is negative or not finite")
    if row["kind"] == "computed" and "computed" not in row["locator"] and len(row["locator"]) < 20:
        found.append("a computed value does not say how it was computed")
    return found


@pytest.mark.parametrize("table", tables())
def test_every_row_names_its_source_and_place(table):
    """Source, locator, unit, tolerance and kind stand beside every number."""
    rows = read_table(table)

    assert rows
    assert {row["id"]: faults(row) for row in rows if faults(row)} == {}


@pytest.mark.parametrize("table", tables())
def test_every_row_has_a_name_of_its_own(table):
    """An id names one row."""
    names = [row["id"] for row in read_table(table)]

    assert sorted(set(names)) == sorted(names)


GOOD = {
    "id": "x",
    "expected": "1",
    "unit": "m",
    "tolerance": "0.5",
    "kind": "published",
    "source": "someone (2000), something",
    "locator": "page 1",
    "note": "",
}


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"source": " "}, "source is empty"),
        ({"locator": ""}, "locator is empty"),
        ({"unit": ""}, "unit is empty"),
        ({"expected": ""}, "expected is empty"),
        ({"kind": "believed"}, "kind 'believed' is not one of published, derived-by-hand, computed"),
        ({"tolerance": "small"}, "tolerance is not a number"),
        ({"tolerance": "nan"}, "tolerance is negative or not finite"),
        ({"tolerance": "-1"}, "tolerance is negative or not finite"),
        ({"locator": None}, "column 'locator' is missing"),
        ({"kind": "computed"}, "a computed value does not say how it was computed"),
    ],
)
def test_a_row_without_parents_is_refused(change, fault):
    """The check above bites."""
    assert faults(GOOD) == []
    assert faults(GOOD | change) == [fault]
