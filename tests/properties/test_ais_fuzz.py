"""Whatever the bytes of an AIS log, it is read or refused, and no position comes from nowhere."""

from __future__ import annotations

import re

import numpy as np
import pytest
from ais_encoder import (
    CLASS_A,
    LAYOUTS,
    after,
    armoured,
    base_report,
    decoded,
    epoch,
    log,
    report,
    sentence,
    sentences,
    tagged,
    xor,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from towzone.errors import InputError
from towzone.logs.ais import read_ais
from towzone.logs.ais_clock import AHEAD_US, reception
from towzone.logs.stamps import StampReader
from towzone.tracks.options import ReadingOptions
from towzone.tracks.raw import NOT_A_TIME

POSITIONS = (1, 2, 3, 18, 19, 27)
BOATS = (219_000_001, 257_000_002, 0, 2_190_001, 982_190_001)
CASES = 4000
EARLIEST_US, LATEST_US = 631_152_000_000_000, 4_102_531_200_000_000  # 1990-01-01 and 2100-01-02


def read(chunks, only=()):
    return read_ais(chunks, file="a.log", name="a", options=ReadingOptions(only=only))


def check(content):
    """What must hold of any answer."""
    tally = dict(content.tally)
    assert tally.pop("sentences") == sum(tally.values())
    assert min(tally.values()) >= 0
    assert [track.name for track in content.raw] == sorted({track.name for track in content.raw})
    for track in content.raw:
        assert len(track) > 0
        assert (np.abs(track.lat_deg) <= 90).all()
        assert (np.abs(track.lon_deg) <= 180).all()
        assert ((track.lat_deg != 0) | (track.lon_deg != 0)).all()
        assert (np.diff(track.line.astype(int)) >= 0).all()
        assert track.bounds == ((0, len(track)),)
        for name, column in track.readings.items():
            known = column[~np.isnan(column)]
            limit = {"sog_kn": 102.3, "cog_deg": 360.0, "heading_deg": 360.0}[name]
            assert ((known >= 0) & (known < limit)).all()


# ---------------------------------------------------------------- every field, against the plain decoder


@st.composite
def messages(draw):
    """A payload of one of the position reports with any bits at all behind its type."""
    kind = draw(st.sampled_from(POSITIONS))
    size = sum(width for _, width, _ in LAYOUTS[kind])
    bits = format(kind, "06b") + format(draw(st.integers(0, 2 ** (size - 6) - 1)), f"0{size - 6}b")
    return armoured(bits)


def expected(fields):
    """What becomes of a position report, said again in plain words."""
    scale = 600 if fields["kind"] == 27 else 600_000
    lon, lat = fields["lon"] / scale, fields["lat"] / scale
    if not 0 < fields["mmsi"] < 10**9:
        return "no_identity"
    text = f"{fields['mmsi']:09d}"
    if text[:2] in ("00", "97", "99") or text[:3] == "111":
        return "other_stations"
    if lon == 181 or lat == 91:
        return "void"
    if abs(lon) > 180 or abs(lat) > 90:
        return "bad_position"
    if lon == lat == 0:
        return "zero_position"
    if fields.get("second", 0) > 60:
        return "estimated"
    return "used"


@settings(max_examples=300, deadline=None)
@given(messages())
def test_any_bits_are_read_as_the_plain_decoder_reads_them(message):
    payload, fill = message
    fields = decoded(payload)
    content = read([log(sentence(f"AIVDM,1,1,,A,{payload},{fill}"))])
    check(content)
    fate = expected(fields)
    assert content.tally[fate] == 1
    assert len(content.raw) == (fate == "used")
    for track in content.raw:
        scale, tenths = (600, 1) if fields["kind"] == 27 else (600_000, 10)
        assert track.vessel == f"{fields['mmsi']:09d}"
        assert (track.lon_deg[0], track.lat_deg[0]) == (fields["lon"] / scale, fields["lat"] / scale)
        knots, course = track.readings["sog_kn"][0], track.readings["cog_deg"][0]
        assert np.isnan(knots) if fields["sog"] == 2 ** (6 if tenths == 1 else 10) - 1 else True
        assert np.isnan(knots) or knots == pytest.approx(fields["sog"] / tenths)
        assert np.isnan(course) == (fields["cog"] / tenths >= 360)
        assert np.isnan(course) or course == pytest.approx(fields["cog"] / tenths)


def test_the_layout_of_class_a_has_the_bits_of_one_slot():
    assert sum(width for _, width, _ in CLASS_A) == 168


# ---------------------------------------------------------------- chunks

LINES = [
    tagged(report(1, BOATS[0], lon=1.25, lat=55.5, second=3), c=epoch(4)),
    report(18, BOATS[1], lon=-1.25, lat=-55.5, second=9),
    *sentences(19, BOATS[4], parts=2, sequence="5", lon=2, lat=3, second=60),
    f"2026-03-01T06:00:10Z {report(27, BOATS[1], lon=3.1, lat=4)}",
    f"{report(2, BOATS[0], lon=181, lat=91, second=11)},r1,{epoch(12)}",
    base_report(after(5)),
    base_report(after(15)),
    report(3, BOATS[2], lon=1, lat=1),
    report(1, BOATS[1], lon=0, lat=0),
    report(1, BOATS[0], lon=1, lat=1)[:-3],
    report(1, BOATS[0], lon=1, lat=1)[:30],
    sentence("GPRMC,060007.00,A,5500.0000,N,00800.0000,E,4.0,90.0,010326,,,A", "$"),
    "",
    "# noise \x00\xff",
]
ENDS = ["\n", "\r\n", "\r", "", " "]


@st.composite
def cut_logs(draw):
    """A log of any of the lines with any ends, and places where it is cut."""
    lines = draw(st.lists(st.tuples(st.sampled_from(LINES), st.sampled_from(ENDS)), max_size=15))
    data = "".join(line + end for line, end in lines).encode("latin-1")
    cuts = draw(st.lists(st.integers(0, len(data)), max_size=20))
    return data, sorted(cuts)


def as_told(content):
    tracks = [
        (
            track.name,
            track.lon_deg.tolist(),
            track.lat_deg.tolist(),
            track.time_us.tolist(),
            track.line.tolist(),
            [(some.reason, some.line.tolist()) for some in track.left_out],
        )
        for track in content.raw
    ]
    return tracks, dict(content.tally), [remark.message for remark in content.remarks]


@settings(max_examples=200, deadline=None)
@given(cut_logs())
def test_where_a_log_is_cut_into_chunks_makes_no_difference(case):
    data, cuts = case
    chunks = [data[start:stop] for start, stop in zip([0, *cuts], [*cuts, len(data)], strict=True)]
    whole = read([data])
    check(whole)
    assert as_told(read(chunks)) == as_told(whole)


# ---------------------------------------------------------------- damage

FRAME = re.compile(r"[!$](..VD[MO],1,1,[^*!$\n\r]*)\*([0-9A-Fa-f]{2})")


def truly_there(text):
    """Positions of all sentences of one part in a text whose checksum is right, decoded plainly."""
    found = set()
    for body, stated in FRAME.findall(text):
        payload = body.split(",")[5] if body.count(",") == 6 else ""
        if xor(body) == int(stated, 16) and re.fullmatch("[0-W`-w]+", payload):
            kind = decoded_kind(payload)
            if kind in POSITIONS and len(payload) * 6 >= sum(width for _, width, _ in LAYOUTS[kind]):
                fields = decoded(payload)
                scale = 600 if kind == 27 else 600_000
                found.add((fields["lon"] / scale, fields["lat"] / scale))
    return found


def decoded_kind(payload):
    value = ord(payload[0]) - 48
    return value - 8 if value > 40 else value


def mutated(rng, data):
    """A log with a few bytes changed, lost, added, doubled or moved."""
    data = bytearray(data or b"!")
    for _ in range(rng.integers(1, 8)):
        place = int(rng.integers(0, len(data) or 1))
        length = int(rng.integers(1, 40))
        match int(rng.integers(0, 6)):
            case 0:
                data[place : place + 1] = bytes([int(rng.integers(0, 256))])
            case 1:
                data[place : place + 1] = bytes(value ^ 1 << place % 7 for value in data[place : place + 1])
            case 2:
                del data[place : place + length]
            case 3:
                data[place:place] = data[place : place + length]
            case 4:
                data[place:place] = bytes(rng.choice(list(b"!$*,\\\r\n0129:TZ- w`{"), length).tolist())
            case _:
                other = int(rng.integers(0, len(data) or 1))
                data[place : place + length] = data[other : other + length]
    return bytes(data) or b"!"


def test_damaged_logs_are_read_or_refused_and_no_position_comes_from_nowhere():
    rng = np.random.default_rng(20_260_301)
    whole = log(*LINES)
    two_parts = {(2.0, 3.0)}  # of the message in two sentences, which the plain reader leaves alone
    refusals = answers = 0
    for case in range(CASES):
        data = mutated(rng, whole)
        only = ("219000001",) if case % 5 == 0 else ()
        size = int(rng.integers(1, len(data) + 1))
        content = refusal = None
        try:
            content = read([data[start : start + size] for start in range(0, len(data), size)], only)
        except InputError as error:
            refusal = error
        if content is None:
            refusals += 1
            assert only
            assert refusal.problems
            continue
        answers += 1
        check(content)
        there = truly_there(data.decode("latin-1")) | two_parts
        for track in content.raw:
            assert set(zip(track.lon_deg.tolist(), track.lat_deg.tolist(), strict=True)) <= there
            known = track.time_us[track.time_us != NOT_A_TIME]
            assert ((known > EARLIEST_US) & (known < LATEST_US)).all()
    assert refusals > 10
    assert answers > 3000


def test_random_payloads_of_every_type_and_length_with_right_checksums_do_no_harm():
    rng = np.random.default_rng(7)
    alphabet = [*range(48, 88), *range(96, 120)]
    lines = []
    for _ in range(3 * CASES):
        payload = bytes(rng.choice(alphabet, int(rng.integers(0, 70))).tolist()).decode()
        payload = str(rng.choice(list("1239BCK4;5"))) + payload
        lines.append(sentence(f"AIVDM,1,1,,A,{payload},{rng.integers(0, 6)}"))
    content = read([log(*lines)])
    check(content)
    assert content.tally["sentences"] == len(lines)
    assert content.tally["cut"] > 100
    assert content.tally["used"] > 100


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=80), st.binary(max_size=80))
def test_any_text_beside_a_sentence_gives_a_time_of_our_days_or_none(before, after_it):
    stamp = StampReader(ReadingOptions()).read(before, after_it)
    assert stamp is None or EARLIEST_US - 86_400_000_000 <= stamp.time_us <= LATEST_US


def test_damaged_times_give_a_time_of_our_days_or_none():
    rng = np.random.default_rng(11)
    texts = [
        b"2026-03-01T06:00:10.25Z ",
        b"03/04/2026 06:00:10 PM ",
        b"rx 2026:060:06:00:06.5000 ",
        tagged("", c=epoch(4), g="1-2-33", s="r1").encode(),
        tagged("", c=epoch(4) * 1000).encode() + tagged("", g="2-2-33").encode(),
    ]
    reader = StampReader(ReadingOptions())
    for case in range(CASES):
        stamp = reader.read(mutated(rng, texts[case % len(texts)]), mutated(rng, b",r003669945,1772344800"))
        assert stamp is None or EARLIEST_US - 86_400_000_000 <= stamp.time_us <= LATEST_US
    assert reader.remarks("a.log")


# ---------------------------------------------------------------- refining


@given(
    st.lists(
        st.tuples(st.integers(1_000_000_000_000_000, 4_000_000_000_000_000), st.integers(0, 63)),
        min_size=1,
        max_size=19,  # below twenty the clock is not judged
    )
)
def test_a_refined_time_has_its_second_and_is_the_latest_in_reach(rows):
    received = np.array([row[0] for row in rows], dtype=np.int64)
    second = np.array([row[1] for row in rows], dtype=np.uint8)
    fixed = reception(received, second).time_us
    for time_us, received_us, named in zip(fixed.tolist(), received.tolist(), second.tolist(), strict=True):
        if named >= 60:
            assert time_us == received_us
        else:
            assert time_us % 60_000_000 == named * 1_000_000
            assert received_us + AHEAD_US - 60_000_000 < time_us <= received_us + AHEAD_US
