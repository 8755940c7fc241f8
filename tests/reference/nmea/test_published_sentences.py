"""Published sentences give exactly the fixes and readings they should, and no others."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

import pytest
from nmea_texts import fixes, gga, read, rmc, steps

from towzone.errors import InputError
from towzone.logs.scan import looks_like_sentences

FOLDER = Path(__file__).parent
UNDATED = "undated"
TABLES = sorted(path.name for path in FOLDER.glob("*.csv"))


def table(name):
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def each(name, keep=bool):
    rows = [row for row in table(name) if keep(row)]
    assert rows
    return [pytest.param(row, id=row["id"]) for row in rows]


def degrees(text):
    """Degrees of '49 16.45 N'."""
    whole, minutes, letter = text.split()
    value = int(whole) + float(minutes) / 60
    return -value if letter in "SW" else value


@pytest.mark.parametrize("name", TABLES)
def test_every_row_names_its_source_and_place(name):
    rows = table(name)

    assert rows
    assert [row["id"] for row in rows if not row["source"].strip() or not row["locator"].strip()] == []
    assert len({row["id"] for row in rows}) == len(rows)


@pytest.mark.parametrize("row", each("published.csv", lambda row: row["lat"]))
def test_a_sentence_with_a_fix_gives_it_and_nothing_else(row):
    content = read("\r\n".join(row["sentences"].split()) + "\r\n")
    (raw,) = content.raw
    ((_, when, lat, lon),) = fixes(content)

    # Half of the last digit that nine decimals of a degree leave, a tenth of a millimetre.
    assert lat == pytest.approx(degrees(row["lat"]), rel=0, abs=1e-9)
    assert lon == pytest.approx(degrees(row["lon"]), rel=0, abs=1e-9)
    assert when == (None if row["utc"] == UNDATED else dt.datetime.fromisoformat(row["utc"]))
    assert raw.left_out == ()
    expected = dict(pair.split("=") for pair in row["readings"].split(";") if pair)
    assert raw.readings.keys() == expected.keys()
    for name, value in expected.items():
        assert raw.readings[name].tolist() == pytest.approx([float(value)], rel=1e-6)


@pytest.mark.parametrize("row", each("published.csv", lambda row: not row["lat"]))
def test_a_sentence_without_a_fix_adds_none_to_a_good_log(row):
    """Alone the log is refused; before a good fix only that one is there, and the rest is accounted for."""
    (good,) = steps(1)
    content = read(row["sentences"] + "\r\n" + rmc(good, 54.5, -8.25, talker="IN"))
    ((line, _, lat, lon),) = fixes(content)
    left = sum(len(some) for some in content.raw[0].left_out)

    assert (line, lat, lon) == (2, 54.5, -8.25)
    if row["reason"] in content.tally:
        assert content.tally[row["reason"]] == 1
        assert left == 0
    else:
        assert left == 1
    with pytest.raises(InputError, match="no position of this log can be used"):
        read(row["sentences"] + "\r\n")


@pytest.mark.parametrize("row", each("published.csv", lambda row: row["reason"] in ("void", "bad_position")))
def test_what_is_wrong_with_a_fix_is_told_by_its_reason(row):
    """Beside a good fix of the same receiver."""
    (good,) = steps(1)
    content = read(row["sentences"] + "\r\n" + rmc(good, 54.5, -8.25) + gga(good, 54.5, -8.25))

    assert [(some.reason, len(some)) for some in content.raw[0].left_out] == [(row["reason"], 1)]


@pytest.mark.parametrize("row", each("readings.csv"))
def test_a_reading_goes_to_the_fix_before_it(row):
    (when,) = steps(1)
    talker = row["sentence"][1:3]
    content = read(gga(when, 54.5, -8.25, talker=talker) + row["sentence"] + "\r\n")
    (raw,) = content.raw

    assert raw.readings[row["reading"]].tolist() == pytest.approx(
        [float(row["expected"])], rel=0, abs=float(row["tolerance"])
    )


@pytest.mark.parametrize("row", each("tag_blocks.csv"))
def test_the_source_in_a_tag_block_names_the_receiver(row):
    """Two receivers of one talker are kept apart by it."""
    moments = steps(4)
    tagged = "".join(row["block"] + rmc(when, 54.5, -8.25) for when in moments)
    plain = "".join(rmc(when, 54.5005, -8.25) for when in moments[:3])
    content = read(plain + tagged)

    assert [lat for _, _, lat, _ in fixes(content)] == [54.5] * 4
    assert f"GP@{row['source_name']}" in "\n".join(remark.message for remark in content.remarks)


@pytest.mark.parametrize("row", each("published.csv"))
def test_every_published_sentence_is_recognised_as_one(row):
    assert looks_like_sentences(row["sentences"].encode() + b"\r\n")
