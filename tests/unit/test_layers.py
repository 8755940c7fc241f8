"""Imports run downwards only, and each heavy library has one home; bad imports are named by both ends."""

from __future__ import annotations

import ast
from importlib.util import find_spec
from pathlib import Path

import pytest

PACKAGE = "towzone"
ROOT = Path(find_spec(PACKAGE).origin).parent

RANKS = {
    "errors": 0,
    "caution": 0,
    "units": 0,
    "words": 0,
    "geodesy": 1,
    "model": 2,
    "gear": 2,
    "grids": 2,
    "tracks": 2,
    "tows": 2,
    "files": 3,
    "logs": 3,
    "checks": 3,
    "notices": 3,
    "surveys": 3,
    "plan": 3,
    "record": 4,
    "tables": 4,
    "fleet": 4,
    "samples": 4,
    "cli": 5,
    "__main__": 6,
}
"""A part may import parts of lower rank only; parts of one rank may not import each other."""

BESIDE = {
    ("units", "errors"),
    ("gear", "model"),
    ("tows", "model"),
    ("tracks", "model"),
    ("files", "logs"),
    ("plan", "checks"),
    # The rows of an audit are those of a check, in columns.
    ("fleet", "tables"),
}
"""Pairs of one rank where the first may import the second."""

HOMES = {
    "click": {"cli"},
    "cryptography": {"record"},
    # Asked for by one command alone.
    "dask": {"fleet"},
    "distributed": {"fleet"},
    "folium": {"record"},
    "pyais": {"logs"},
    "branca": {"record"},
    "fiona": {"files"},
    "geopandas": {"files", "tables"},
    # Compiled code is written anywhere with `geodesy.compiling.compiled`; how it is compiled stands there.
    "numba": {"geodesy"},
    "pandas": {"files", "tables"},
    # Records tell the versions of both, drawings are clipped with shapely; never in checks, for no verdict.
    # The gear unites what it swept with shapely, in a plane around each tow, and hands out rings.
    "pyproj": {"geodesy", "gear", "files", "record"},
    # Planning looks for ways in a plane; what it finds is checked like any other line before it is told.
    "shapely": {"geodesy", "gear", "files", "plan", "surveys", "record", "tables"},
}
"""Libraries that may be imported in these parts only."""

NEVER = {"geographiclib", "hypothesis", "pytest", "requests", "scipy", "socket", "urllib3"}
"""Not run-time dependencies, or ways to a network."""


def part_of(module):
    """The part of the package a module belongs to: 'towzone.geodesy.lines' is 'geodesy', 'towzone' is ''."""
    return module.split(".")[1] if "." in module else ""


def imports(tree):
    """Every imported module in a tree, functions included, with 'from package import name' spelled out."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                yield "." * node.level + (node.module or ""), node.lineno
            elif node.module == PACKAGE:
                # 'from towzone import geodesy' imports the part; 'from towzone import __version__' does not.
                names = [alias.name for alias in node.names]
                yield from ((f"{PACKAGE}.{n}" if n in RANKS else PACKAGE, node.lineno) for n in names)
            else:
                yield node.module, node.lineno


def faults(source, module):
    """What a module imports and may not, in words that name both modules."""
    found = []
    part = part_of(module)
    if part and part not in RANKS:
        return [f"{module} belongs to no level: add '{part}' to RANKS"]
    for name, line in imports(ast.parse(source)):
        top = name.split(".")[0]
        if name.startswith("."):
            found.append(f"{module} line {line} imports {name} relatively; write the full name")
        elif top == PACKAGE and name != PACKAGE:
            found += upward(module, part, name, line)
        elif top in HOMES and part not in HOMES[top]:
            homes = " and ".join(sorted(HOMES[top]))
            found.append(f"{module} line {line} must not import {name}: it belongs in {homes}")
        elif top in NEVER:
            found.append(f"{module} line {line} must not import {name}: not for run time")
    return found


def upward(module, part, name, line):
    """The fault in importing a module of our own, if any."""
    other = part_of(name)
    if other not in RANKS:
        return [f"{module} line {line} imports {name}, which belongs to no level"]
    if other == part or (part, other) in BESIDE:
        return []
    if not part:
        return [f"{module} line {line} must not import {name}: the package itself imports nothing"]
    if RANKS[other] < RANKS[part]:
        return []
    return [f"{module} line {line} must not import {name}: level {RANKS[part]} from level {RANKS[other]}"]


def modules():
    """Every module of the package as (name, path)."""
    for path in sorted(ROOT.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        parts = parts[:-1] if parts[-1] == "__init__" else parts
        yield ".".join([PACKAGE, *parts]), path


def test_imports_run_downwards_and_libraries_stay_home():
    """No module imports upwards, sideways or relatively."""
    found = [f for name, path in modules() for f in faults(path.read_text(encoding="utf-8"), name)]

    assert found == []


def test_every_level_that_exists_was_looked_at():
    """The walk sees the whole package, so that it cannot pass by seeing nothing."""
    seen = {part_of(name) for name, _ in modules()}

    assert {"errors", "units", "geodesy", "model", "files", "checks", "record", "tables", "cli"} <= seen


@pytest.mark.parametrize(
    ("module", "source", "fault"),
    [
        (
            "towzone.geodesy.lines",
            "from towzone.model.zone import Zone\n",
            "towzone.geodesy.lines line 1 must not import towzone.model.zone: level 1 from level 2",
        ),
        (
            "towzone.checks.run",
            "import os\ndef f():\n    import towzone.files.gpx\n",
            "towzone.checks.run line 3 must not import towzone.files.gpx: level 3 from level 3",
        ),
        (
            "towzone.model.track",
            "from towzone import cli\n",
            "towzone.model.track line 1 must not import towzone.cli: level 2 from level 5",
        ),
        (
            "towzone.tables.screen",
            "from towzone.record import page\n",
            "towzone.tables.screen line 1 must not import towzone.record: level 4 from level 4",
        ),
        (
            "towzone.errors",
            "from towzone.units import parse_length\n",
            "towzone.errors line 1 must not import towzone.units: level 0 from level 0",
        ),
        (
            "towzone.geodesy.lines",
            "from . import region\n",
            "towzone.geodesy.lines line 1 imports . relatively; write the full name",
        ),
        (
            "towzone.checks.run",
            "from click import echo\n",
            "towzone.checks.run line 1 must not import click: it belongs in cli",
        ),
        (
            "towzone.record.page",
            "import geopandas as gpd\n",
            "towzone.record.page line 1 must not import geopandas: it belongs in files and tables",
        ),
        (
            "towzone.geodesy.lines",
            "from scipy import optimize\n",
            "towzone.geodesy.lines line 1 must not import scipy: not for run time",
        ),
        (
            "towzone",
            "from towzone.cli import run\n",
            "towzone line 1 must not import towzone.cli: the package itself imports nothing",
        ),
        (
            "towzone.helpers",
            "",
            "towzone.helpers belongs to no level: add 'helpers' to RANKS",
        ),
    ],
)
def test_a_wrong_import_is_caught_and_both_modules_are_named(module, source, fault):
    """The walker bites."""
    assert faults(source, module) == [fault]


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("towzone.cli.check", "from towzone import __version__\nfrom towzone.record.page import write\n"),
        ("towzone.units", "from towzone.errors import UsageError\n"),
        ("towzone.geodesy.region", "from towzone.geodesy.lines import LineKind\n"),
        ("towzone.files.vector", "import fiona\nimport geopandas\n"),
    ],
)
def test_right_imports_are_let_through(module, source):
    """Downwards, within a part, and libraries at home."""
    assert faults(source, module) == []
