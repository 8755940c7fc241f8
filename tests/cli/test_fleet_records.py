"""Records of an audit: the very files that the commands of its overview make, and nothing else is linked."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest
from cli_runner import call
from fleet_audits import audit, fleet, lines, write_csv, write_zones

from towzone.cli import requests
from towzone.cli.fleet_records import make_record, write_pages
from towzone.errors import InputError, TowzoneError
from towzone.fleet.workers import Here
from towzone.model.fleet import record_name

HOSTILE = ("../x", "CON", "two\nlines", "-o", "x" * 300, "<script>window.taken=1</script>", "$(touch taken)")
OPTIONS = ("--margin", "0.3nmi", "--towing", "all")


class Silent:
    """No progress."""

    def stage(self, name, total):
        """Say nothing."""

    def step(self, count=1):
        """Say nothing."""


@pytest.fixture(scope="module")
def audited(tmp_path_factory):
    """An audit of seven vessels of unlikely names with records of five of them; its folder and result."""
    folder = tmp_path_factory.mktemp("audit")
    write_csv(folder / "fleet.csv", fleet(HOSTILE))
    write_zones(folder / "zones.geojson")
    ran = audit("fleet.csv", "zones.geojson", "OUT", *OPTIONS, "--records", 5, cwd=folder)
    assert ran.code == 1, ran.err
    assert "not made" not in ran.err
    return folder


def entries(folder):
    text = (folder / "OUT" / "index.html").read_text(encoding="utf-8")
    data = json.loads(re.search(r'id="ledgers">([^<]*)<', text)[1])[0]
    padded = [entry + [None] * (7 - len(entry)) for entry in data["entries"]]
    return data, padded


def counts_of(line):
    return {name.removeprefix("rows_"): value for name, value in line.items() if name.startswith("rows_")}


def words_of(data, entry):
    """What a shell would make of the command of a row."""
    line = " ".join([data["head"], entry[5][0], data["tail"], entry[5][1]])
    octal = re.sub(
        r"\$'((?:[^'\\]|\\\d{3})*)'",
        lambda found: shlex.quote(re.sub(r"\\(\d{3})", lambda code: chr(int(code[1], 8)), found[1])),
        line,
    )
    return shlex.split(octal)


def test_the_worst_have_records_that_are_linked_and_the_others_the_command_that_makes_one(audited):
    _, rows = entries(audited)
    made = sorted(path.name for path in (audited / "OUT" / "records").iterdir())

    assert sorted(row[4] for row in rows[:5]) == [f"records/{name}" for name in made]
    assert all(row[4] in ("", None) and row[5] for row in rows[5:])
    assert {record_name(vessel) for vessel in HOSTILE} >= set(made)
    assert not (audited / "taken").exists()


def test_a_record_is_byte_for_byte_what_the_command_of_the_overview_makes(audited, tmp_path):
    for vessel in HOSTILE:
        record = audited / "OUT" / "records" / record_name(vessel)
        if record.exists():
            words = ["fleet.csv", f"--only={vessel}", "--zones", "zones.geojson", *OPTIONS]
            ran = call("check", *words, "--record", tmp_path / record.name, cwd=audited)

            assert ran.code in (1, 4), ran.err
            assert (tmp_path / record.name).read_bytes() == record.read_bytes()


def test_the_command_that_a_page_tells_makes_the_record_that_it_would_link(audited, tmp_path):
    data, rows = entries(audited)
    for row in rows[5:]:
        program, *words, name = words_of(data, row)
        assert program == "towzone"
        ran = call(*words, tmp_path / name, cwd=audited)

        assert ran.code in (0, 1, 4), ran.err
        counts = json.loads(
            re.search(r'id="result">([^<]*)<', (tmp_path / name).read_text(encoding="utf-8"))[1]
        )["counts"]
        (line,) = [one for one in lines(audited / "OUT").values() if record_name(one["vessel"]) == name]
        assert counts == counts_of(line)


def test_verify_passes_with_the_inputs_on_every_record_and_on_the_overview(audited):
    for record in sorted((audited / "OUT" / "records").iterdir()):
        ran = call("verify", record, "--inputs", audited, cwd=audited)
        assert ran.code == 0, ran.out
        assert "byte for byte" in ran.out
    ran = call("verify", audited / "OUT" / "index.html")

    assert ran.code == 0
    assert "Unchanged" in ran.out


def test_the_same_audit_gives_the_same_pages(audited, tmp_path):
    ran = audit("fleet.csv", "zones.geojson", tmp_path / "OUT", *OPTIONS, "--records", 5, cwd=audited)
    assert ran.code == 1

    for name in ("index.html", *(f"records/{p.name}" for p in (audited / "OUT" / "records").iterdir())):
        assert (tmp_path / "OUT" / name).read_bytes() == (audited / "OUT" / name).read_bytes()


@pytest.fixture
def task(audited, monkeypatch, tmp_path):
    """What a worker is given to make one record, in the folder of the audit."""
    monkeypatch.chdir(audited)
    vessel = HOSTILE[0]
    line = lines("OUT")[vessel]
    counts = counts_of(line)
    words = ["fleet.csv", f"--only={vessel}", "--zones", "zones.geojson", *OPTIONS]
    return words, str(tmp_path / "record.html"), counts, {}


def test_a_record_that_is_there_and_whole_is_kept_and_any_other_made_again(task, monkeypatch):
    words, place, _, digests = task
    make_record(*task)
    whole = Path(place).read_bytes()

    def not_again(request):
        raise AssertionError(request)

    with monkeypatch.context() as patched:
        patched.setattr(requests, "check_files", not_again)
        make_record(*task)
    for damaged in (
        whole[:-1],
        whole[:1000],
        b"",
        whole.replace(b"Clearance record", b"Clearance RECORD", 1),
    ):
        Path(place).write_bytes(damaged)
        make_record(*task)
        assert Path(place).read_bytes() == whole
    with pytest.raises(TowzoneError, match="fault in towzone"):
        make_record(words, place, {"clear": 1}, digests)


def test_no_record_is_made_of_a_file_that_is_no_longer_the_one_audited(task):
    words, place, counts, _ = task

    with pytest.raises(InputError, match="no longer the file"):
        make_record(words, place, counts, {"fleet.csv": "0" * 64})
    assert not Path(place).exists()


def test_what_cannot_be_made_is_told_and_its_row_has_the_command(audited, tmp_path, monkeypatch):
    from fleet_lines import build_totals, vessel_line

    monkeypatch.chdir(audited)
    found = vessel_line("nobody", files=("missing.csv",))
    unchecked = vessel_line("unchecked", counts={}, problem="unread")
    totals = build_totals([found, unchecked])
    (tmp_path / "records").mkdir()
    for left in (".x.html.ab12.part", "other.html"):
        (tmp_path / "records" / left).write_text("left by a process that was killed", encoding="utf-8")
    faults = write_pages(totals, [found, unchecked], tmp_path, 5, Here(), Silent())

    assert len(faults) == 1
    assert "missing.csv" in faults[0]
    text = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert "<a href" not in text
    assert "Command that makes its record" in text
    assert list((tmp_path / "records").iterdir()) == []
