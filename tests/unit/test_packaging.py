"""What is installed is whole, what is pinned is all, and what is tracked belongs there."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import distribution, version
from pathlib import Path, PurePosixPath

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import towzone

REPOSITORY = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))
CONSTRAINTS = (REPOSITORY / ".ci" / "constraints.txt").read_text(encoding="ascii").splitlines()
ALLOWED_AT_TOP = {
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "pyproject.toml",
    "sample_tracks",
    "sample_zones",
    "tests",
    "towzone",
}
IGNORED = {"__pycache__", ".artefacts", ".git", ".venv", "build", "dist", "towzone-demo"}


def tracked_files():
    """Paths git knows; without git or its folder, all files but those `.gitignore` names."""
    git = shutil.which("git")
    if git and (REPOSITORY / ".git").exists():
        run = subprocess.run([git, "ls-files", "-z"], cwd=REPOSITORY, capture_output=True, check=False)
        if run.returncode == 0:
            names = run.stdout.decode().split("\0")[:-1]
            return sorted(PurePosixPath(name) for name in names if (REPOSITORY / name).is_file())
    found = []
    for folder, folders, files in os.walk(REPOSITORY):
        folders[:] = [f for f in folders if f not in IGNORED and not re.search(r"(_cache|\.egg-info)$", f)]
        folders[:] = [f for f in folders if f != ".hypothesis"]
        found += [Path(folder, file).relative_to(REPOSITORY) for file in files]
    return sorted(PurePosixPath(path.as_posix()) for path in found)


@pytest.fixture(scope="module")
def tracked():
    paths = tracked_files()
    assert PurePosixPath("pyproject.toml") in paths
    return paths


@pytest.fixture(scope="module")
def wheel(tmp_path_factory, tracked):
    """A wheel built offline from a copy, so that nothing is left behind in the repository."""
    source, wheels = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("wheels")
    for path in tracked:
        (source / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(REPOSITORY / path, source / path)
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--disable-pip-version-check", "--no-index"]
    command += ["--no-deps", "--no-build-isolation", "--wheel-dir", str(wheels), str(source)]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    (built,) = wheels.iterdir()
    return built


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory, wheel):
    folder = tmp_path_factory.mktemp("installed")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder


def test_wheel_holds_every_file_of_the_package_and_the_samples(wheel, tracked):
    """All but the folders' own Python caches: modules, `py.typed`, assets of the record, samples."""
    expected = {str(path) for path in tracked if path.parts[0] == "towzone"}
    samples = {"sample_zones", "sample_tracks"}
    expected |= {f"towzone/samples/{path}" for path in tracked if path.parts[0] in samples}
    with zipfile.ZipFile(wheel) as archive:
        found = {name for name in archive.namelist() if name.startswith("towzone/")}
    assert found == expected
    assert {"towzone/py.typed", "towzone/samples/sample_zones/greywether_bank.geojson"} <= found


def test_wheel_holds_licence_and_version_of_the_package(wheel):
    with zipfile.ZipFile(wheel) as archive:
        info = f"towzone-{towzone.__version__}.dist-info"
        licence = archive.read(f"{info}/licenses/LICENSE")
        metadata = archive.read(f"{info}/METADATA").decode()
    assert licence == (REPOSITORY / "LICENSE").read_bytes()
    assert f"\nVersion: {towzone.__version__}\n" in metadata
    assert "\nLicense-Expression: MIT\n" in metadata


def test_installed_package_finds_its_own_samples(unpacked, tmp_path):
    program = (
        "import json, towzone.samples as s;"
        "print(json.dumps({n: [str(r), len(r.read_bytes())] for n, r in s.sample_files().items()}))"
    )
    run = subprocess.run(
        [sys.executable, "-c", program],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(unpacked)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    found = json.loads(run.stdout)
    assert found == {
        name: [str(unpacked / "towzone" / "samples" / name), (REPOSITORY / name).stat().st_size]
        for name in found
    }
    assert len(found) == 14


def test_package_without_samples_says_so(unpacked, tmp_path):
    shutil.copytree(unpacked / "towzone", tmp_path / "towzone")
    shutil.rmtree(tmp_path / "towzone" / "samples" / "sample_zones")
    run = subprocess.run(
        [sys.executable, "-c", "import towzone.samples as s; s.sample_files()"],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode != 0
    assert "TowzoneError: the folder sample_zones is missing from this installation" in run.stderr


def test_version_is_stated_once_and_is_a_version():
    assert "version" not in PROJECT["project"]
    assert PROJECT["project"]["dynamic"] == ["version"]
    assert re.fullmatch(r"\d+\.\d+\.\d+", towzone.__version__)


def test_installed_metadata_and_changelog_agree_with_the_version():
    assert version("towzone") == towzone.__version__
    headings = re.findall(r"^## (\S+)", (REPOSITORY / "CHANGELOG.md").read_text(encoding="utf-8"), re.M)
    assert headings[0] == towzone.__version__


def test_every_package_folder_is_listed_for_the_build():
    folders = {
        ".".join(path.relative_to(REPOSITORY).parent.parts)
        for path in REPOSITORY.joinpath("towzone").rglob("*.py")
    }
    mapped = PROJECT["tool"]["setuptools"]["package-dir"]
    assert set(PROJECT["tool"]["setuptools"]["packages"]) == folders | mapped.keys()
    assert mapped == {f"towzone.samples.{name}": name for name in ("sample_tracks", "sample_zones")}


def test_every_constraint_is_one_plain_pin():
    assert [
        line for line in CONSTRAINTS if not re.fullmatch(r"[A-Za-z0-9._-]+==[0-9][A-Za-z0-9.]*", line)
    ] == []
    names = [canonicalize_name(line.split("==")[0]) for line in CONSTRAINTS]
    assert sorted(names) == sorted(set(names))


def test_all_that_an_installation_needs_is_pinned():
    """Walks the requirements of what is installed here, starting with all that the project names."""
    project = PROJECT["project"]
    waiting = [Requirement(text) for text in project["dependencies"]]
    waiting += [Requirement(text) for extra in project["optional-dependencies"].values() for text in extra]
    waiting += [Requirement(text) for text in PROJECT["dependency-groups"]["test"]]
    needed = {"pip"}
    while waiting:
        requirement = waiting.pop()
        name = canonicalize_name(requirement.name)
        if name in needed or not _applies(requirement):
            continue
        needed.add(name)
        waiting += [Requirement(text) for text in distribution(name).requires or []]
    assert needed == {canonicalize_name(line.split("==")[0]) for line in CONSTRAINTS}


def _applies(requirement):
    return requirement.marker is None or requirement.marker.evaluate({"extra": ""})


def test_pins_satisfy_what_the_project_asks_for():
    pins = {canonicalize_name(name): pin for name, _, pin in (line.partition("==") for line in CONSTRAINTS)}
    asked = [*PROJECT["project"]["dependencies"], *PROJECT["build-system"]["requires"]]
    asked += PROJECT["dependency-groups"]["test"]
    asked += [text for extra in PROJECT["project"]["optional-dependencies"].values() for text in extra]
    for requirement in map(Requirement, asked):
        assert requirement.specifier.contains(pins[canonicalize_name(requirement.name)]), requirement


def test_top_level_holds_only_what_belongs_there(tracked):
    tops = {path.parts[0] for path in tracked}
    assert {top for top in tops if not top.startswith(".")} <= ALLOWED_AT_TOP
    assert {"LICENSE", "CHANGELOG.md", "pyproject.toml"} <= tops


# Spelled in pieces, so that this file does not find itself.
SUSPECT = re.compile(
    "|".join(
        [
            r"(?<![\w.])/(?:" + "work|tmp|" + "root|home|" + "Users)" + r"/\w",
            r"[A-Z]:" + r"\\\\?Users",
            r"py" + r"pi\.org",
            r"python" + r"hosted\.org",
            r"--(?:extra-)?" + r"index-url",
            r"find" + r"-links",
        ]
    )
)


@pytest.mark.parametrize(
    "text",
    [
        "see /wor" + "k/x",
        "'/hom" + "e/me'",
        "open /tm" + "p/a",
        "https://py" + "pi.org/x",
        "--index" + "-url y",
    ],
)
def test_suspect_text_is_recognised(text):
    assert SUSPECT.search(text)


@pytest.mark.parametrize("text", ["net/work/x", "~/home", "a temporary folder", "<trkpt/>"])
def test_harmless_text_is_not_suspected(text):
    assert not SUSPECT.search(text)


def test_no_tracked_file_names_a_path_of_a_machine_or_a_host_of_a_registry(tracked):
    found = [
        f"{path}:{number}: {line.strip()[:100]}"
        for path in tracked
        for number, line in enumerate(_lines(REPOSITORY / path), start=1)
        if SUSPECT.search(line)
    ]
    assert found == []


def _lines(path):
    # Latin-1 reads any bytes, so files in other encodings, kept as tests of the readers, are searched too.
    return path.read_bytes().decode("latin-1").splitlines()


@pytest.mark.parametrize("name", ["demo", "test", "prepare.sh", "run"])
def test_set_up_scripts_are_valid_shell(name):
    shell = "bash" if name == "run" else "sh"
    run = subprocess.run(
        [shell, "-n", str(REPOSITORY / ".ci" / name)], capture_output=True, text=True, check=False
    )
    assert (run.returncode, run.stderr) == (0, "")


def test_set_up_scripts_are_executable():
    modes = [(REPOSITORY / ".ci" / name).stat().st_mode & 0o111 for name in ("demo", "test", "run")]
    assert all(modes)


@pytest.mark.parametrize(
    "body",
    [
        "import pytest\ndef test_a():\n    pytest.skip('no')\n",
        "import pytest\npytest.skip('no', allow_module_level=True)\n",
        "import pytest\n@pytest.mark.xfail\ndef test_a():\n    assert False\n",
        "def test_a(): pass\ndef test_b(): pass\n",
    ],
    ids=["skipped", "file", "expected-failure", "deselected"],
)
@pytest.mark.parametrize("cores", [(), ("-n", "2")], ids=["one-core", "two-cores"])
def test_a_test_left_out_fails_the_run(tmp_path, body, cores):
    """Beside one test that passes, any test left out makes pytest's exit code 1."""
    (tmp_path / "test_good.py").write_text("def test_good(): pass\n", encoding="utf-8")
    run = _run_pytest(tmp_path, body, *cores)
    assert (run.returncode, " passed" in run.stdout) == (1, True), run.stdout


def test_a_run_with_nothing_left_out_passes(tmp_path):
    assert _run_pytest(tmp_path, "def test_a(): pass\n").returncode == 0


def _run_pytest(folder, body, *options):
    (folder / "test_body.py").write_text(body, encoding="utf-8")
    (folder / "pytest.ini").write_text("[pytest]\n", encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-p", "no_skips", "-p", "no:cacheprovider", *options]
    if "def test_b" in body:
        command += ["--deselect", "test_body.py::test_b"]
    return subprocess.run(
        command,
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(REPOSITORY / ".ci")},
        capture_output=True,
        text=True,
        check=False,
    )
