"""Leaflet is taken byte for byte from its release or not at all."""

from __future__ import annotations

import re

import pytest

from towzone.errors import OutputError
from towzone.record import leaflet
from towzone.record.leaflet import load_leaflet


def test_installed_leaflet_is_the_known_release_with_its_licence() -> None:
    found = load_leaflet()

    assert found.version == "1.9.4"
    assert "BSD 2-Clause License" in found.licence
    assert "Leaflet 1.9.4" in found.script  # its own first comment says so


def test_inlined_leaflet_asks_for_no_other_file() -> None:
    found = load_leaflet()

    assert "sourceMappingURL" not in found.script
    assert "</script" not in found.script.lower()
    assert re.findall(r"url\(|@import|behavior|https?:", found.style) == []


@pytest.mark.parametrize("name", ["_SCRIPT_SHA256", "_STYLE_SHA256"])
def test_changed_leaflet_is_refused_with_both_hashes(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    known = getattr(leaflet, name)
    monkeypatch.setattr(leaflet, name, "0" * 64)

    with pytest.raises(OutputError) as error:
        load_leaflet()

    assert known in str(error.value)
    assert "0" * 64 in str(error.value)


@pytest.mark.parametrize(
    ("name", "value"),
    [("_DISTRIBUTION", "no-such-distribution-for-towzone"), ("_SCRIPT", "js_lib_leaflet/none.js")],
)
def test_missing_leaflet_is_named_in_one_sentence(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str
) -> None:
    monkeypatch.setattr(leaflet, name, value)

    with pytest.raises(OutputError, match="no record can be written"):
        load_leaflet()
