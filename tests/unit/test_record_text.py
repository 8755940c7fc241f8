"""Untrusted text and data islands: what goes in as text comes out as that text and nothing else."""

from __future__ import annotations

import html
import json

import numpy as np
import pytest

from towzone.record.island import data_island, delta_path, dump, escape_json
from towzone.record.text import clean, escape, short, shown


@pytest.mark.parametrize(
    "character",
    [
        "\u202e",
        "\u2066",
        "\u200f",
        "\u200b",
        "\ufeff",
        "\x00",
        "\x1b",
        "\n",
        "\ud800",
        "\u2028",
        "\U000e0041",
    ],
)
def test_hidden_or_turning_characters_are_shown_by_their_number(character: str) -> None:
    assert clean(f"a{character}b") == f"a‹U+{ord(character):04X}›b"


@pytest.mark.parametrize("text", ["Box A", "Ærø", "日本", "خليج", "a\u200db", "50 % {{7*7}} `${1}`"])
def test_ordinary_text_of_any_script_is_left_as_it_is(text: str) -> None:
    assert clean(text) == text


def test_escaped_text_read_back_as_html_is_the_text() -> None:
    text = """<script>alert("1")</script> & 'x'"""

    escaped = escape(text)

    assert html.unescape(escaped) == text
    assert not set("<>\"'") & set(escaped)


def test_long_text_is_cut_and_says_so() -> None:
    assert short("x" * 10_000, 50) == "x" * 50 + "… (10000 characters)"


def test_shown_text_is_isolated_from_the_reading_direction_around_it() -> None:
    assert shown("a<b") == "<bdi>a&lt;b</bdi>"


@pytest.mark.parametrize(
    "text", ["</script><script>alert(1)</script>", "<!--", "]]>", "&lt;", "\u2028", "\\u003c"]
)
def test_json_in_an_island_reads_back_the_same_and_holds_no_markup(text: str) -> None:
    value = {"name": text, text: [1, None, True]}

    island = data_island("data", dump(value))
    inner = island.removeprefix('<script type="application/json" id="data">').removesuffix("</script>")

    assert json.loads(inner) == value
    assert not set("<>&\u2028") & set(inner)


def test_json_that_was_safe_already_is_not_changed() -> None:
    text = json.dumps({"a": [1, 2.5, "ü"], "b": None}, ensure_ascii=False, indent=2)

    assert escape_json(text) == text


def test_numbers_that_are_not_finite_are_refused() -> None:
    with pytest.raises(ValueError, match="JSON"):
        dump({"x": float("nan")})


def test_path_read_back_lies_within_half_a_millionth_of_a_degree() -> None:
    """Rounding must not add up along the path: each position is rounded by itself, then differenced."""
    rng = np.random.default_rng(20260301)
    path = np.column_stack([179.0 + rng.random(5000) * 2.0, -89.0 + rng.random(5000) * 178.0])

    steps = np.array(delta_path(path)).reshape(-1, 2)

    np.testing.assert_allclose(steps.cumsum(axis=0) / 1e6, path, rtol=0, atol=0.5000001e-6)
