"""Whatever the bytes and however they are cut, a log gives what a slow second reading gives, or a refusal."""

from __future__ import annotations

import math
import random
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nmea_logs import random_log
from nmea_oracle import Reading, other_lines
from nmea_texts import fixes, left_out, messages, read, sentence

from towzone.errors import InputError
from towzone.logs.scan import holds_own_positions, looks_like_sentences, scan
from towzone.model.track import REASONS
from towzone.tracks.raw import NOT_A_TIME

RUNS, LOGS, PASSAGES = 20, 50, 20
FIRST_US, LAST_US = (np.datetime64(f"{year}-01-01", "us").astype(int) for year in (1980, 2101))
LARGEST = {"sog_kn": 102.2, "cog_deg": 360.0, "heading_deg": 360.0, "depth_m": 12_100.0, "hdop": 1e6}
READINGS = {
    "sog_kn": ("sog_kn", "sog"),
    "cog_deg": ("cog_deg", "cog"),
    "hdop": ("hdop",),
    "heading_deg": ("hdt",),
    "depth_m": ("dpt", "dbt"),
}
PIECES = [
    b"$",
    b"!",
    b"*",
    b",",
    b"\r\n",
    b"\\",
    b"\0" * 9,
    b"\xff\xfe",
    b"-",
    b".",
    b"9" * 40,
    b"$GPRMC,",
    b"*00\r\n",
    b"\\s:x*00\\",
    b"999999.99",
    b"0000.0000",
    b"1e9",
    b"GPDTM,",
    b"010169",
    b" " * 70,
]


# --- against the oracle -----------------------------------------------------------------------------


def compare(log):
    """Hold a log as the reader reads it against the oracle; return how many fixes were compared."""
    oracle = Reading(log)
    try:
        content = read(log)
    except InputError:
        assert not oracle.epochs or not oracle.usable(oracle.talker()) or oracle.refused()
        return 0
    talker = oracle.talker()
    expected = sorted(oracle.usable(talker), key=lambda epoch: (epoch.line, epoch.seq))
    found = fixes(content)

    assert {word: content.tally[word] for word in oracle.counts} == oracle.counts
    assert content.tally["empty"] == oracle.empty
    assert not oracle.refused()
    assert content.tally["other_lines"] == other_lines(log)[0]
    conflicts = {"conflicting_time": sum(len(epoch.told) for epoch in oracle.conflicting(talker))}
    extra = conflicts["conflicting_time"] - len(oracle.conflicting(talker))
    assert content.tally["fixes"] == len(oracle.epochs) + extra
    assert [fix[:2] for fix in found] == [(epoch.line, epoch.when) for epoch in expected]
    # A double near 180 is exact to 3e-14; two roundings may add.
    for column, place in ((2, 1), (3, 2)):
        np.testing.assert_allclose(
            [fix[column] for fix in found], [epoch.best[place] for epoch in expected], rtol=0, atol=1e-13
        )
    used = {id(epoch) for epoch in expected}
    reasons = Counter(
        "bad_time" if epoch.reason == "good" else epoch.reason
        for epoch in oracle.epochs
        if epoch.talker == talker and id(epoch) not in used
    )
    others = sum(epoch.talker != talker for epoch in oracle.epochs)
    wanted = dict(reasons) | conflicts | {"other_receiver": others}
    assert left_out(content) == {reason: count for reason, count in wanted.items() if count}
    for name, words in READINGS.items():
        column = content.raw[0].readings.get(name, np.full(len(found), np.nan))
        wanted = [next((e.said[w] for w in words if w in e.said), math.nan) for e in expected]
        # Single precision holds seven digits.
        np.testing.assert_allclose(column, wanted, rtol=1e-6, atol=0)
    return len(expected)


@pytest.mark.parametrize("run", range(10))
def test_the_reader_agrees_with_the_oracle(run):
    """Thirty random logs a run, of one to three talkers, with faults of all kinds in up to one in five."""
    compared = sum(compare(random_log(random.Random(1000 * run + number))) for number in range(30))

    assert compared > 500


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="$!*,\r\n\\GPRMCA0123456789.NSEW ", max_size=300))
def test_the_reader_agrees_with_the_oracle_on_text_of_nothing_but_special_characters(text):
    compare(text)


# --- wherever it is cut -----------------------------------------------------------------------------


def everything(content):
    """All that a reading gives, to be compared as a whole."""
    (raw,) = content.raw
    columns = [raw.lon_deg, raw.lat_deg, raw.time_us, raw.line, *raw.readings.values()]
    outs = [(some.reason, some.line.tolist(), some.time_utc.astype(int).tolist()) for some in raw.left_out]
    return (
        content.tally,
        messages(content),
        raw.bounds,
        raw.resolution_m,
        list(raw.readings),
        [column.tobytes() for column in columns],
        outs,
    )


def outcome(log, **cut):
    """All that a log gives, or the words of its refusal."""
    try:
        return everything(read(log, **cut))
    except InputError as refusal:
        return str(refusal)


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 500), st.integers(1, 8))
def test_how_a_log_is_cut_makes_no_difference(seed, chunk, lines):
    """Chunks of any size, and pieces from one line up."""
    log = random_log(random.Random(seed), seconds=6)
    longest = max(len(line) + 2 for line in log.encode("latin-1").split(b"\n"))

    assert outcome(log, chunk=chunk, piece_bytes=longest * lines) == outcome(log)


# --- damaged ----------------------------------------------------------------------------------------


def mutated(rng, data):
    """A log with some bytes changed, taken out, put in or doubled; half of the time with right checksums."""
    data = bytearray(data)
    for _ in range(rng.choice([1, 1, 2, 5, 20])):
        at = rng.randrange(len(data) + 1)
        what = rng.randrange(5)
        if what == 0 and at < len(data):
            data[at] = rng.randrange(256)
        elif what == 1:
            del data[at : at + rng.choice([1, 2, 10, 100])]
        elif what == 2:
            data[at:at] = rng.choice(PIECES)
        elif what == 3:
            data[at:at] = data[at : at + rng.choice([5, 50, 500])]
        elif at < len(data):
            data[at] = ord(rng.choice("0123456789.,NSEWAV$*"))
    if rng.random() < 0.5:
        lines = bytes(data).decode("latin-1").split("\n")
        lines = [
            sentence(line[line.rfind("$") + 1 : line.rfind("*")], end="")
            if "$" in line and "*" in line
            else line
            for line in lines
        ]
        return "\n".join(lines).encode("latin-1")
    return bytes(data)


@pytest.mark.parametrize("run", range(RUNS))
def test_damage_gives_a_refusal_or_fixes_that_can_be(run):
    """A thousand damaged passages a run, each alone or in one log of twenty; only InputError comes out."""
    rng = random.Random(run)
    used = 0
    sound = [random_log(rng, seconds=3).encode("latin-1") for _ in range(20)]
    for _ in range(LOGS):
        passages = [mutated(rng, rng.choice(sound)) for _ in range(PASSAGES)]
        for data in (b"".join(passages), passages[0]):
            looks_like_sentences(data)
            holds_own_positions(data)
            try:
                content = read(data)
            except InputError:
                continue
            used += sum(len(raw) for raw in content.raw)
            assert sum(len(raw) for raw in content.raw) == content.tally["used"]
            outs = [some for raw in content.raw for some in raw.left_out]
            assert content.tally["used"] + sum(len(some) for some in outs) == content.tally["fixes"]
            for raw in content.raw:
                can_be(raw, lines=data.count(b"\n") + 1)
    assert used > LOGS


def can_be(raw, lines):
    """Whether all that came out is within the bounds of what there is."""
    assert len(raw) > 0
    assert (np.abs(raw.lat_deg) <= 90).all()
    assert (np.abs(raw.lon_deg) <= 180).all()
    assert not ((np.abs(raw.lat_deg) <= 1e-6) & (np.abs(raw.lon_deg) <= 1e-6)).any()
    timed = raw.time_us[raw.time_us != NOT_A_TIME]
    assert ((timed >= FIRST_US) & (timed < LAST_US)).all()
    assert ((raw.line >= 1) & (raw.line <= lines)).all()
    assert (np.diff(raw.line.astype(np.int64)) >= 0).all()
    assert [stop for _, stop in raw.bounds][:-1] == [first for first, _ in raw.bounds][1:]
    assert (raw.bounds[0][0], raw.bounds[-1][1]) == (0, len(raw))
    assert all(first < stop for first, stop in raw.bounds)
    for name, column in raw.readings.items():
        known = column[~np.isnan(column)]
        assert len(known)
        assert ((known >= 0) & (known <= np.float32(LARGEST[name]))).all()
    for some in raw.left_out:
        assert some.reason in REASONS
        assert len(some)


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=2000))
def test_any_bytes_are_scanned_and_every_mark_is_counted(data):
    assert scan(data).counts.sentences == data.count(b"$") + data.count(b"!")


@pytest.mark.parametrize(
    "byte", [b"$", b"!", b"*", b",", b"\\", b"\n", b"\0", b" ", b"$*", b"$,", b"\\$", b"$A,*"]
)
def test_a_megabyte_of_one_thing_is_no_trouble(byte):
    """Neither time nor memory runs away; the limits are those of the whole test suite."""
    data = byte * ((1 << 20) // len(byte))

    assert not looks_like_sentences(data)
    with pytest.raises(InputError, match="no position of this log can be used"):
        read(data, piece_bytes=1 << 18)
