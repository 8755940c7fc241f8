"""The closed forms of the gear against values worked out elsewhere."""

from __future__ import annotations

from inspect import signature

import numpy as np
import pytest
from reference_rows import read_table, rows

from towzone.gear import current, layback, scope, spread, turns, winch

TABLE = "gear_values.csv"
MODULES = (current, layback, scope, spread, turns, winch)


def crab_offset_m(speed, cross, friction, layback):
    """How far aside the gear lies, as the docstring of the angle says."""
    return layback * np.sin(current.crab_angle(speed, cross, friction))


def function(name):
    if name == "crab_offset_m":
        return crab_offset_m
    (found,) = {getattr(module, name) for module in MODULES if name in module.__all__}
    return found


def arguments(text):
    """Arguments by name, from 'theta0_deg=60; run_m=400': degrees as radians, under the name at hand."""
    pairs = [part.strip().split("=") for part in text.split(";")]
    return {
        key.removesuffix("_deg"): np.radians(float(value))
        if key.endswith("_deg")
        else value
        if key == "name"
        else float(value)
        for key, value in pairs
    }


def called(row):
    function_of_row = function(row.inputs["function"])
    names = signature(function_of_row).parameters
    given = {
        key if key in names else f"{key}_rad": value
        for key, value in arguments(row.inputs["arguments"]).items()
    }
    found = function_of_row(**given)
    found = getattr(found, row.inputs["output"]) if row.inputs["output"] else found
    return float(np.degrees(found) if row.unit == "deg" else found)


@pytest.mark.parametrize("row", rows(TABLE))
def test_a_closed_form_gives_the_value_worked_out_elsewhere(row):
    """To the relative tolerance of the row."""
    assert abs(called(row) / row.value - 1.0) <= row.tolerance


def test_every_closed_form_asked_for_has_a_row():
    """The table cannot shrink unseen."""
    asked = {1, 2, 3, 4, 6, 7, 8, 11, 12, 13, 14, 15, 16, 17, 18, 26, 27, 28, 30, 32}
    found = {int(r["id"].split("-")[0][1:]) for r in read_table(TABLE) if r["id"].startswith("V")}

    assert found == asked
