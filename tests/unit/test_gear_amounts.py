"""Amounts that make no sense are refused with what was found and what is allowed."""

from __future__ import annotations

import numpy as np
import pytest

from towzone.errors import UsageError
from towzone.gear.amounts import amount, refuse_where


@pytest.mark.parametrize(
    ("value", "found"),
    [
        (np.nan, "nan m"),
        (None, "nan m"),
        (np.inf, "inf m"),
        (-np.inf, "-inf m"),
        (-0.5, "-0.5 m"),
        (2e9, "2e+09 m"),
        ([1.0, np.nan, -1.0], "nan m (and so on: 2 of 3 values)"),
        ([[3.0], [-4.0]], "-4 m (and so on: 1 of 2 values)"),
    ],
)
def test_an_amount_outside_its_limits_is_refused_with_the_first_found(value, found):
    with pytest.raises(UsageError) as refused:
        amount("warp", value, least=0.0)

    assert str(refused.value) == f"warp: found {found}; allowed: numbers from 0 to 1e+09 m; correct it"


@pytest.mark.parametrize("value", ["350m", [[1.0], [2.0, 3.0]], object()])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(UsageError, match=r"^warp: found .* allowed are numbers \(m\)"):
        amount("warp", value)


def test_a_limit_itself_is_allowed_unless_it_must_be_exceeded():
    assert float(amount("warp", 0.0, least=0.0)) == 0.0
    assert float(amount("warp", 4.0, most=4.0)) == 4.0
    with pytest.raises(UsageError, match="numbers above 0 to 1e"):
        amount("warp", 0.0, above=0.0)


def test_only_what_may_be_endless_is():
    np.testing.assert_array_equal(amount("radius", [-np.inf, np.inf], endless=True), [-np.inf, np.inf])
    with pytest.raises(UsageError, match="found nan"):
        amount("radius", np.nan, endless=True)


def test_an_amount_of_one_number_has_no_axes_and_columns_keep_theirs():
    assert amount("warp", 3).shape == ()
    assert amount("warp", 3).dtype == np.float64
    assert amount("warp", [[1, 2, 3]]).shape == (1, 3)
    assert amount("warp", []).shape == (0,)


def test_a_refusal_shows_all_amounts_of_the_first_bad_place():
    with pytest.raises(UsageError) as refused:
        refuse_where([False, True, True], "no", [("a", [1.0, 2.0, 3.0], "m"), ("b", 7.0, "")], "yes", "do")

    assert str(refused.value) == "no: found a 2 m, b 7 (and so on: 2 of 3 values); allowed: yes; do"


def test_nothing_bad_is_let_through():
    refuse_where([False, False], "no", [("a", [1.0, 2.0], "m")], "yes", "do")
    refuse_where([], "no", [("a", [], "m")], "yes", "do")
