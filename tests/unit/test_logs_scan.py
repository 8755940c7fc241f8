"""Every sentence in the bytes of a log is found once, and is whole, damaged, cut or of another type."""

from __future__ import annotations

import numpy as np
import pytest
from nmea_texts import gga, rmc, sentence, steps

from towzone.logs.checksum import checksum
from towzone.logs.scan import (
    PADDING_BYTES,
    Kind,
    holds_own_positions,
    looks_like_sentences,
    scan,
    whole_lines,
)

(WHEN,) = steps(1)
RMC = rmc(WHEN, 54.5, -8.25).encode()
GGA = gga(WHEN, 54.5, -8.25).encode()
BARE = RMC[:-5] + b"\r\n"
AIS = sentence("AIVDM,1,1,,A,13aEOK?P00PD2wVMdLDRhgvL289?,0", mark="!").encode()


def kinds(data):
    return [Kind(kind).name for kind in scan(data).kind.tolist()]


def counts(data):
    found = scan(data).counts
    return found.read, found.other, found.bad_checksum, found.cut, found.no_checksum


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (RMC, (1, 0, 0, 0, 0)),
        (RMC.rstrip(), (1, 0, 0, 0, 0)),
        (RMC.replace(b"\r\n", b"\n"), (1, 0, 0, 0, 0)),
        (RMC.replace(b"\r\n", b"\r"), (1, 0, 0, 0, 0)),
        (RMC.rstrip() + b" behind the checksum\r\n", (1, 0, 0, 0, 0)),
        (RMC[:-4] + RMC[-4:].lower(), (1, 0, 0, 0, 0)),
        (RMC + GGA, (2, 0, 0, 0, 0)),
        (RMC.rstrip() + GGA, (2, 0, 0, 0, 0)),
        (b"06:10:00 " + RMC.rstrip() + b"\t" + GGA, (2, 0, 0, 0, 0)),
        (b"\\s:a,c:1120959341*00\\" + RMC, (1, 0, 0, 0, 0)),
        (b"\0" * 5000 + RMC + b"\0" * 5000 + GGA, (2, 0, 0, 0, 0)),
        (RMC.replace(b"54", b"53", 1), (0, 0, 1, 0, 0)),
        (RMC.replace(b"54", b"5\x00", 1), (0, 0, 1, 0, 0)),
        (RMC[:30] + RMC, (1, 0, 0, 1, 0)),
        (RMC[:30] + b"\r\n" + RMC, (1, 0, 0, 1, 0)),
        (RMC[:-4], (0, 0, 0, 1, 0)),
        (RMC[:-3], (0, 0, 0, 1, 0)),
        (RMC[:-5] + b"*G0\r\n", (0, 0, 0, 1, 0)),
        (BARE, (1, 0, 0, 0, 1)),
        (RMC[:-5] + b" \0\0\r\n", (1, 0, 0, 0, 1)),
        (RMC[:-5] + GGA, (1, 0, 0, 1, 0)),
        (b"$$" + RMC, (1, 0, 0, 2, 0)),
        (b"$" + RMC[1:-5] + b"$\r\n", (0, 0, 0, 2, 0)),
        (b"costs $5, or $7*8\r\n", (0, 0, 0, 2, 0)),
        (b"$*00\r\n", (0, 1, 0, 0, 0)),
        (b"$", (0, 0, 0, 1, 0)),
        (b"", (0, 0, 0, 0, 0)),
        (AIS, (1, 0, 0, 0, 0)),
        (sentence("GPGSV,1,1,00").encode(), (0, 1, 0, 0, 0)),
        # A maker's own sentence ends in RMC and is none.
        (sentence("PGRMC,A,1.0,100").encode(), (0, 1, 0, 0, 0)),
        (sentence("GPRMC,1", mark="!").encode(), (0, 1, 0, 0, 0)),
        (sentence("gprmc,1").encode(), (0, 1, 0, 0, 0)),
        (sentence("RMC,1,2").encode(), (1, 0, 0, 0, 0)),
        (sentence("ABCDERMC,1,2").encode(), (1, 0, 0, 0, 0)),
        (sentence("ABCDEFRMC,1,2").encode(), (0, 1, 0, 0, 0)),
        (sentence("GPRMC").encode(), (0, 1, 0, 0, 0)),
    ],
)
def test_what_becomes_of_each_sentence(data, expected):
    """Read, of other types, with a wrong checksum, cut; and how many of the first two have no checksum."""
    assert counts(data) == expected
    assert scan(data).counts.sentences == sum(expected[:4])


def test_the_fields_of_a_layout_decide_whether_a_sentence_without_checksum_is_whole():
    """Cut anywhere before its last needed field it is cut, from there on it is read."""
    fields = BARE.strip().split(b",")
    whole = [scan(b",".join(fields[:n]) + b"\n").counts.read for n in range(1, len(fields) + 1)]

    # RMC had eleven fields behind the address before it had a mode.
    assert whole == [0] * 11 + [1] * (len(fields) - 11)


def test_a_gll_without_checksum_that_ends_in_its_time_is_cut():
    """One layout ends with the hemisphere, the next with the status; between them the time is open."""
    fields = [b"$GPGLL", b"5430.0", b"N", b"00815.0", b"W", b"061000", b"A", b"A"]

    assert [scan(b",".join(fields[:n])).counts.read for n in range(1, 9)] == [0, 0, 0, 0, 1, 0, 1, 1]


def test_checksums_agree_with_a_plain_fold_wherever_the_sentence_stands():
    """Sums are taken eight bytes at a time; every place in and length of a word must come out alike."""
    for lead in range(17):
        for length in range(40):
            body = b"GPXYZ," + bytes(range(48, 48 + length)).replace(b"*", b"-")
            line = b"." * lead + b"$" + body + b"*%02X" % checksum(body)
            wrong = line[:-2] + b"%02X" % (checksum(body) ^ 0x11)
            assert counts(line) == (0, 1, 0, 0, 0)
            assert counts(wrong) == (0, 0, 1, 0, 0)


def test_a_sentence_may_end_the_piece_without_a_line_end():
    found = scan(GGA.strip())

    assert (found.data[: len(GGA) - 2].tobytes(), found.kind.tolist()) == (GGA.strip(), [Kind.GGA])
    assert len(found.data) >= len(GGA) - 2 + PADDING_BYTES


@pytest.mark.parametrize("size", [100, 101, 128, 1000])
@pytest.mark.parametrize("chunk", [1, 7, 99, 100, 5000])
def test_pieces_hold_whole_lines_wherever_chunks_were_cut(size, chunk):
    lines = [rmc(when, 54.5, -8.25).encode() for when in steps(30)]
    data = b"".join(lines)
    pieces = list(whole_lines([data[i : i + chunk] for i in range(0, len(data), chunk)], size))

    assert b"".join(pieces) == data
    assert pieces == list(whole_lines([data], size))
    assert all(piece.endswith(b"\n") and len(piece) <= size for piece in pieces)


def test_noise_without_a_line_end_does_not_pile_up():
    """A hundred pieces of noise are handed on one by one."""
    pieces = list(whole_lines((b"\x80" * 1000 for _ in range(100)), 1000))

    assert [len(piece) for piece in pieces] == [1000] * 100


@pytest.mark.parametrize(
    ("head", "expected"),
    [
        (RMC, True),
        (BARE, True),
        (AIS, True),
        (b"2026-03-01T06:10:00Z\t" + RMC, True),
        (b"\\s:a*12\\" + RMC, True),
        (b"\x00\xff\x80" * 1000 + RMC, True),
        (b"# a log\n" * 500 + RMC, True),
        (RMC.replace(b"54", b"53", 1), True),
        (sentence("GPGSV,1,1,00").encode(), True),
        (b"time,lat,lon\n" + b"2026-03-01T06:10:00Z,54.5,-8.25\n" * 10, False),
        (b"time,lat,lon,price\n" + b"2026-03-01T06:10:00Z,54.5,-8.25,$5\n" * 10, False),
        (b"item,price\nRMC,$GPRMC costs,$9*00\n", False),
        (b"note,time,lat,lon\n" + b"$USD,2026-03-01T06:10:00Z,54.5,-8.25\n" * 10, False),
        (b"<gpx><trkpt lat='1' lon='2'/></gpx><!-- $ 5*00 -->", False),
        (b"PK\x03\x04" + bytes(range(256)) * 100, False),
        (b"a note\n" * 9 + BARE, False),
        (b"", False),
        (b"$", False),
    ],
)
def test_a_log_is_told_from_other_text(head, expected):
    assert looks_like_sentences(head) is expected


@pytest.mark.parametrize(
    ("head", "expected"),
    [
        (RMC, True),
        (BARE, True),
        (AIS + GGA, True),
        (AIS * 3, False),
        (AIS.replace(b"VDM", b"VDO"), False),
        (sentence("HEHDT,341.8,T").encode(), False),
        (RMC.replace(b"54", b"53", 1), False),
        (b"", False),
    ],
)
def test_own_positions_make_it_the_log_of_a_receiver(head, expected):
    assert holds_own_positions(head) is expected


def test_random_bytes_are_no_log():
    """A thousand heads of noise; chance does not write a checksum behind an address."""
    rng = np.random.default_rng(7)

    assert not any(looks_like_sentences(rng.bytes(5000)) for _ in range(1000))
