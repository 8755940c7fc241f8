"""README and help say what the program does: every option, every example, every printed answer."""

from __future__ import annotations

import re
import shlex
import shutil

import click
import pytest
from cli_runner import ROOT, call

from towzone.cli.main import cli

README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = ("check", "demo", "fleet", "plan", "tows", "verify", "vessel", "zones")


def command(name):
    found = cli.get_command(click.Context(cli), name)
    assert found is not None
    return found


def options(name):
    return [o for p in command(name).params if isinstance(p, click.Option) for o in p.opts]


def examples(name):
    """Command lines in the help of a command (or of the program), joined where they are continued."""
    text = call(*([name] if name else []), "--help").out
    block = text.partition("Examples:")[2].partition("\n\n")[0].replace("\\\n", " ")
    return [
        " ".join(line.split()) for line in block.strip().splitlines() if line.strip().startswith("towzone")
    ]


@pytest.fixture
def copy(tmp_path):
    """A folder with the samples, where commands of the documents may write."""
    for folder in ("sample_tracks", "sample_zones"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    return tmp_path


def test_the_commands_of_the_program_are_those_this_test_knows():
    assert sorted(cli.list_commands(click.Context(cli))) == sorted(COMMANDS)


@pytest.mark.parametrize("option", sorted({*options("check"), *options("fleet"), *options("plan")}))
def test_every_option_of_check_fleet_and_plan_is_in_readme(option):
    """As a word of its own: -o is not found in --output."""
    assert re.search(rf"(?<![\w-]){re.escape(option)}(?![\w-])", README), option


@pytest.mark.parametrize(("name", "option"), [(n, o) for n in ("check", "fleet", "plan") for o in options(n)])
def test_every_option_has_its_line_in_help(name, option):
    lines = call(name, "--help").out.splitlines()
    assert any(re.search(rf"(?<![\w-]){re.escape(option)}(?![\w-])", line) for line in lines)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_in_readme_and_has_examples(name):
    assert f"towzone {name}" in README
    assert examples(name)


def test_no_option_of_readme_is_made_up():
    for heading, name in (
        ("## Options of", "check"),
        ("## Planning a tow", "plan"),
        ("## Many vessels", "fleet"),
    ):
        part = README.partition(heading)[2].partition("\n## ")[0]
        text = re.sub(r"\bUTC\b.*", "", re.sub(r"```.*?```", "", part, flags=re.DOTALL))
        named = set(re.findall(r"(?<![\w-])(-{1,2}[a-z][a-z-]*)", text))
        assert named <= set(options(name)), named - set(options(name))


EXAMPLES = [(name, line) for name in COMMANDS for line in examples(name)]


@pytest.mark.parametrize(("name", "line"), EXAMPLES, ids=[line for _, line in EXAMPLES])
def test_every_example_of_a_command_runs_from_the_repository_root(name, line, copy):
    words = shlex.split(line)
    assert words[:2] == ["towzone", name]
    if name == "verify":
        zones = "sample_zones/greywether_bank.geojson"
        call("check", "sample_tracks/greywether_plan.gpx", "--zones", zones, "--record", words[2], cwd=copy)
    ran = call(*words[1:], cwd=copy)
    assert ran.code in (0, 1, 4), ran.err
    assert ran.out


def test_the_examples_show_a_finding():
    assert 1 in {call(*shlex.split(line)[1:], cwd=ROOT).code for name, line in EXAMPLES if name == "check"}


def test_examples_of_the_program_itself_are_complete_command_lines():
    """They may name files of the reader's own, but only options and commands there are."""
    for line in examples(""):
        words = shlex.split(line)
        assert words[1] in COMMANDS
        assert {w for w in words if w.startswith("-")} <= set(options(words[1]))


BLOCKS = re.findall(r"^```\n(\$ towzone .*?)^```$", README, flags=re.MULTILINE | re.DOTALL)


def test_readme_shows_at_least_one_command_with_its_answer():
    assert BLOCKS


@pytest.mark.parametrize("block", BLOCKS, ids=[b.splitlines()[0] for b in BLOCKS])
def test_the_answers_printed_in_readme_are_those_the_program_gives(block, copy):
    for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
        line, _, wanted = part.partition("\n")
        ran = call(*shlex.split(line)[1:], cwd=copy)
        if wanted.endswith("\n...\n"):
            assert ran.out.startswith(wanted.removesuffix("...\n"))
        else:
            assert ran.out == wanted
        assert ran.err == ""


def test_the_python_of_readme_runs(copy, monkeypatch, capsys):
    (snippet,) = re.findall(r"^```python\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
    monkeypatch.chdir(copy)
    exec(compile(snippet, "README.md", "exec"), {})
    assert capsys.readouterr().out.startswith("finding [")


def test_the_files_shown_in_readme_are_read(copy):
    (gpx,) = re.findall(r"^```xml\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
    (zones,) = re.findall(r"^```json\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
    (copy / "r.gpx").write_text(gpx)
    (copy / "z.geojson").write_text(zones)
    ran = call("check", "r.gpx", "--zones", "z.geojson", cwd=copy)
    assert ran.code in (0, 1, 4), ran.err


@pytest.mark.parametrize("code", ["0", "1", "2", "3", "4", "70", "130", "141"])
def test_every_exit_code_is_in_readme(code):
    assert f"| {code} |" in README


@pytest.mark.parametrize(
    "status", ["inside", "too_close", "undetermined", "transit", "not_in_force", "clear"]
)
def test_every_status_is_in_readme(status):
    assert f"| `{status}` |" in README


@pytest.mark.parametrize(
    "reason",
    ["fishing_inside", "entry", "under_margin", "touched", "position_error", "gap", "missing_times",
     "activity_unknown", "not_towing", "kept_speed", "slow_transit", "outside_allowed_area", "date_unknown",
     "gear_unknown", "season", "gear"],
)  # fmt: skip
def test_every_reason_is_in_readme(reason):
    assert f"`{reason}`" in README
