"""Compiled code that is kept: never stale, and not needed; each case in processes of its own."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path

import numba
import numpy as np
import pytest

from towzone.geodesy import compiling
from towzone.geodesy.compiling import compiled, solid

CALLEE = """
from towzone.geodesy.compiling import compiled
LIMIT = {limit}
@compiled
def inner(x):
    return {formula}
"""
CALLER = """
from callee import LIMIT, inner
from towzone.geodesy.compiling import compiled
@compiled
def outer(x):
    return below(x) + LIMIT
@compiled
def below(x):
    return inner(x) + 1.0 if x > 0.0 else below(-x)
"""
ASK = "from caller import outer; print(outer(3.0), len(outer.stats.cache_hits), outer.stats.cache_path)"


def write(folder, *, formula="2.0 * x", limit=0.5):
    (folder / "callee.py").write_text(CALLEE.format(formula=formula, limit=limit), encoding="utf-8")
    (folder / "caller.py").write_text(CALLER, encoding="utf-8")


def answer(folder, ask=ASK, **environment):
    """The answer of a fresh process, how often it found kept code, and where."""
    surroundings = {k: v for k, v in os.environ.items() if not k.startswith("NUMBA")}
    # Python's own byte code, kept by second and size of the source, would be stale where files are rewritten.
    surroundings |= {"PYTHONDONTWRITEBYTECODE": "1"}
    surroundings |= {"PYTHONPATH": os.pathsep.join([str(folder), *sys.path]), **environment}
    done = subprocess.run(
        [sys.executable, "-c", ask], env=surroundings, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    value, hits, path = done.stdout.split()
    return float(value), int(hits), path


def test_kept_code_is_used_until_a_function_or_a_constant_of_another_file_changes(tmp_path):
    """The caller's file stays the same: its kept code holds copies of what it calls, above it and below."""
    write(tmp_path)
    assert answer(tmp_path)[:2] == (7.5, 0)
    assert answer(tmp_path)[:2] == (7.5, 1)
    write(tmp_path, formula="4.0 * x")
    assert answer(tmp_path)[:2] == (13.5, 0)
    write(tmp_path, formula="4.0 * x", limit=0.25)
    assert answer(tmp_path)[:2] == (13.25, 0)


def test_without_any_folder_that_can_be_written_every_process_compiles_for_itself(tmp_path):
    """Neither beside the source (a file bars the way) nor in the user's folder."""
    write(tmp_path)
    (tmp_path / "__pycache__").write_text("", encoding="utf-8")
    barred = {"HOME": os.devnull, "XDG_CACHE_HOME": f"{os.devnull}/none", "PYTHONDONTWRITEBYTECODE": "1"}
    assert answer(tmp_path, **barred) == (7.5, 0, "None")


@pytest.mark.parametrize("ending", ["nbi", "nbc"])
def test_damaged_files_are_made_again(tmp_path, ending):
    """Cut short, as by a crash or a full disk."""
    write(tmp_path)
    place = Path(answer(tmp_path)[2])
    damaged = [
        path for path in place.iterdir() if path.name.startswith("caller.outer") and ending in path.suffix
    ]
    assert len(damaged) == 1
    damaged[0].write_bytes(damaged[0].read_bytes()[:-40])
    assert answer(tmp_path)[:2] == (7.5, 0)
    assert answer(tmp_path)[:2] == (7.5, 1)


def test_a_list_that_names_what_is_no_longer_there_is_made_again(tmp_path):
    """As after a type that some function took was renamed: the list of kept code holds its name."""
    write(tmp_path)
    place = Path(answer(tmp_path)[2])
    (index,) = (
        path for path in place.iterdir() if path.name.startswith("caller.outer") and "nbi" in path.suffix
    )
    for gone in (b"cnumpy\nno_such_name\n.", b"cno_such_module\nname\n."):
        index.write_bytes(pickle.dumps(numba.__version__) + gone)
        assert answer(tmp_path)[:2] == (7.5, 0)
        assert answer(tmp_path)[:2] == (7.5, 1)


def test_a_list_without_its_code_stands_for_no_earlier_code(tmp_path):
    """The library writes the list first; then the disk was full, or the process was killed."""
    full = """
from towzone.geodesy.compiling import IndexDataCacheFile
def full(*_): raise OSError(28, "No space left on device")
IndexDataCacheFile._save_data = full
"""
    write(tmp_path)
    answer(tmp_path)
    write(tmp_path, formula="4.0 * x")
    assert answer(tmp_path, full + ASK)[0] == 13.5
    assert answer(tmp_path)[:2] == (13.5, 0)
    assert answer(tmp_path)[:2] == (13.5, 1)


def test_a_disk_that_cannot_be_written_costs_nothing_but_time(monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(compiling.IndexDataCacheFile, "save", full)

    @compiled
    def doubled(x):
        return 2.0 * x

    assert doubled(4.0) == 8.0


@pytest.mark.parametrize(
    "column",
    [
        np.arange(6.0)[::2],
        np.arange(3),
        [0, 1, 2],
        np.frombuffer(np.arange(3.0).tobytes()),
        np.broadcast_to(1.0, 3),
        np.arange(3.0).astype(">f8"),
    ],
)
def test_solid_columns_are_all_of_one_kind(column):
    """One kind of column means one compilation; the values are those of the caller."""
    got = solid(column)
    assert (got.dtype, got.flags.c_contiguous, got.flags.writeable) == (np.dtype("=f8"), True, True)
    assert got.dtype.isnative
    np.testing.assert_array_equal(got, np.asarray(column, float))


def test_solid_columns_are_not_copied():
    column = np.arange(3.0)
    assert solid(column) is column
    column.flags.writeable = False
    lent = solid(column)
    assert np.shares_memory(lent, column)
    assert not column.flags.writeable


def test_a_lent_column_keeps_its_memory():
    """The column is gone everywhere else."""
    column = np.full(100_000, 7.0)
    column.flags.writeable = False
    lent = solid(column)
    del column
    others = [np.zeros(100_000) for _ in range(5)]
    assert (lent == 7.0).all()
    assert len(others) == 5


CHECK = """
import sys
from towzone.cli.main import main
print(main(["check", *sys.argv[1:]]))
told = [m for m in ("numba.np.arraymath", "numba.np.linalg") if m in sys.modules]
print("loaded:", *told)
"""


def test_a_check_loads_no_part_of_the_library_that_is_slow_to_load():
    """Reductions, sorts and `where` on arrays in compiled code import these, and a quarter of a second."""
    samples = Path(__file__).parents[2]
    tracks = samples / "sample_tracks"
    given = [
        tracks / "greywether_trip_gap.gpx",
        "--zones",
        samples / "sample_zones" / "greywether_bank.geojson",
    ]
    command = [
        sys.executable,
        "-c",
        CHECK,
        *map(str, given),
        "--vessel",
        str(tracks / "greywether_vessel.toml"),
    ]
    for _ in range(2):
        # The first may compile, which loads all there is.
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1] == "loaded:", done.stderr
