"""The text of tables: decoded strictly, cut into rows with the right line, whatever size the pieces have."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator

import pytest

from towzone.errors import InputError
from towzone.files.csv_head import find_head
from towzone.files.csv_text import BLANKS, Lines, Problems, read_batches

SIZES = (1, 2, 3, 7, 1 << 20)


def pieces(data: bytes, size: int) -> Iterator[bytes]:
    return (data[at : at + size] for at in range(0, len(data), size))


def rows(data: bytes, size: int = 1 << 20, delimiter: str = ",") -> list[tuple[int, list[str]]]:
    batches = read_batches(Lines(pieces(data, size), "a.csv"), delimiter, 1)
    return [pair for batch in batches for pair in zip(batch.lines, batch.rows, strict=True)]


def refusal(data: bytes, size: int = 1 << 20) -> str:
    with pytest.raises(InputError) as caught:
        rows(data, size)
    return str(caught.value)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"a,b\n1,2\n", [(1, ["a", "b"]), (2, ["1", "2"])]),
        (b"a,b\n1,2", [(1, ["a", "b"]), (2, ["1", "2"])]),
        (b"a,b\r\n1,2\r\n", [(1, ["a", "b"]), (2, ["1", "2"])]),
        (b"a,b\r1,2\r", [(1, ["a", "b"]), (2, ["1", "2"])]),
        (b"a\r\r\n\n\rb", [(1, ["a"]), (5, ["b"])]),
        (b"\n\na\n\n\nb\n", [(3, ["a"]), (6, ["b"])]),
        (b'a,"b\nc\r\nd",e\nf\n', [(1, ["a", "b\nc\nd", "e"]), (4, ["f"])]),
        (b'a, "b, c"\n', [(1, ["a", "b, c"])]),
        (b'"a ""b"""\n', [(1, ['a "b"'])]),
        (b"57\xc2\xb030'15\"N,1\n", [(1, ["57°30'15\"N", "1"])]),
        ("\ufeffa,æ\n".encode(), [(1, ["a", "æ"])]),
        ("a,æ\nb".encode("utf-16"), [(1, ["a", "æ"]), (2, ["b"])]),
        (b"\xfe\xff" + "a,æ\nb".encode("utf-16-be"), [(1, ["a", "æ"]), (2, ["b"])]),
        ("a\u2028b\x0bc\x85\n".encode(), [(1, ["a\u2028b\x0bc\x85"])]),
        (b"", []),
    ],
)
def test_rows_and_their_lines_do_not_depend_on_the_pieces(
    data: bytes, expected: list[tuple[int, list[str]]], size: int
) -> None:
    assert rows(data, size) == expected


def test_the_lines_of_many_rows_are_counted_on() -> None:
    """More rows than are handed over at once, one of them over two lines, one line blank."""
    data = b"1\n" * 700 + b'"2\n2"\n\n' + b"3\n" * 700
    found = rows(data)
    assert [line for line, _ in found] == [*range(1, 702), *range(704, 1404)]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"a\nb\r\n\xe6,c\n", "line 3: byte 0xE6 is not UTF-8 text; .* Save the file as UTF-8"),
        (b"a\r\xff", "line 2: byte 0xFF is not UTF-8"),
        (b"a\n\xc3", "line 2: byte 0xC3 is not UTF-8"),
        (b"a\n" + b"\xed\xa0\x80", "line 2: byte 0xED is not UTF-8"),
        ("a\nb".encode("utf-16")[:-1], "line 2: is not UTF-16 text"),
        (b"\xff\xfea\0\n\0\0\xd8b\0", "line 2: is not UTF-16 text"),
        (b"a\r\nb\0c\n", "line 2: holds a NUL character"),
        ("a\nb".encode("utf-16-le"), "line 1: holds a NUL character.*UTF-16 without its mark"),
        (b'a\n"b\n', "line 2: the row that begins here cannot be read .*check its quotes"),
        (b'a\n"b"c\n', "line 2: the row that begins here cannot be read"),
        (b'a\n\n"b\nb"c\n', "line 3: the row that begins here cannot be read"),
    ],
)
def test_what_is_no_text_or_no_row_is_refused_with_its_line(data: bytes, said: str, size: int) -> None:
    with pytest.raises(InputError, match=said):
        rows(data, size)


def test_a_cell_of_ten_megabytes_is_refused() -> None:
    """In one line, in lines of its own, or as the rest of a file in one line."""
    too_long = "line 2: the line is longer than 4 million characters"
    assert too_long in refusal(b"a\nb," + b"x" * 10_000_000)
    assert too_long in refusal(b"a\n" + b"x," * 5_000_000)
    too_large = "line 2: the row that begins here cannot be read (field larger"
    assert too_large in refusal(b'a\nb,"' + b"x\n" * 5_000_000 + b'"')
    assert too_large in refusal(b"a\nb," + b"x" * 200_000 + b"\n")


def test_a_quote_that_nobody_closes_is_found_where_it_begins() -> None:
    assert "line 2: the row that begins here" in refusal(b'a\n"b\n' + b"1,2,3\n" * 100_000)


def test_quotes_that_never_meet_do_not_make_one_row_of_the_file() -> None:
    """Every line closes a quote and opens the next one: no cell is long, the row never ends."""
    said = refusal(b'a\n"' + b'x","\n' * 400_000, size=1 << 16)
    assert (
        said == "a.csv: line 2: the row that begins here does not end in a thousand lines; check its quotes"
    )


def test_runs_of_blanks_part_columns_where_that_is_the_delimiter() -> None:
    assert rows(b"  a   b\n\n1 \t 2  \n", delimiter=BLANKS) == [(1, ["a", "b"]), (3, ["1", "2"])]


def test_memory_does_not_grow_with_the_file() -> None:
    line = b"2026-03-01T06:10:00Z,57.500000,-20.250000\n"

    def endless() -> Iterator[bytes]:
        for _ in range(50):
            yield line * 5_000

    tracemalloc.start()
    count = sum(len(batch.rows) for batch in read_batches(Lines(endless(), "a"), ",", 1))
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert count == 250_000  # 10 MB
    assert most < 3 << 20


def test_problems_are_told_in_order_of_lines_and_given_up_after_a_thousand() -> None:
    problems = Problems("a.csv")
    problems.refuse()  # nothing yet
    problems.add(7, "late", "lat")
    problems.add(3, "early")
    with pytest.raises(InputError) as caught:
        problems.refuse()
    assert [str(problem) for problem in caught.value.problems] == [
        "line 3: early",
        "line 7, column 'lat': late",
    ]
    for line in range(10, 1007):
        problems.add(line, "more")
    with pytest.raises(InputError) as caught:
        problems.add(5000, "the thousandth")
    assert len(caught.value.problems) == 1001
    assert "reading stopped after 1000 problems" in str(caught.value.problems[-1])


# --- the head ---------------------------------------------------------------------------------------


def known(names: object) -> int:
    return len({"lat", "lon", "time"} & set(names))  # type: ignore[call-overload]


@pytest.mark.parametrize(
    ("text", "names", "delimiter", "line"),
    [
        ("time,lat,lon\n", ("time", "lat", "lon"), ",", 1),
        ("time;lat;lon\n", ("time", "lat", "lon"), ";", 1),
        ("time\tlat\tlon\n", ("time", "lat", "lon"), "\t", 1),
        ("time|lat|lon\n", ("time", "lat", "lon"), "|", 1),
        ("time  lat   lon\n", ("time", "lat", "lon"), BLANKS, 1),
        ("time\tlat lat\tlon time\tlat\tlon\n", ("time", "lat lat", "lon time", "lat", "lon"), "\t", 1),
        ("a time,lat,lon\n", ("a time", "lat", "lon"), ",", 1),
        ('"time", "lat" ,lon\n', ("time", "lat", "lon"), ",", 1),
        ("time (a, b);lat;lon\n", ("time (a, b)", "lat", "lon"), ";", 1),
        ("\n# by hand\n  # more\n,,,\nlat,lon", ("lat", "lon"), ",", 5),
        ("sep=;\nlat;a,b;lon\n", ("lat", "a,b", "lon"), ";", 2),
        ("sep=,\nlat;lon,b\n", ("lat;lon", "b"), ",", 2),
        ("x;y,z\n", ("x", "y,z"), ";", 1),
    ],
)
def test_the_head_is_found_with_its_delimiter(
    text: str, names: tuple[str, ...], delimiter: str, line: int
) -> None:
    head = find_head(Lines([text.encode()], "a"), known)
    if names == ("x", "y,z"):  # nothing is known of it: any way to part it is as good
        assert len(head.names) == 2
        return
    assert (head.names, head.delimiter, head.line, head.next_line) == (names, delimiter, line, line + 1)


def test_a_head_that_was_made_a_comment_is_remembered() -> None:
    head = find_head(Lines([b"# time,lat,lon\n# by hand\n1,2,3\n"], "a"), known)
    assert (head.line, head.comment, head.looks_like_data()) == (3, 1, True)


@pytest.mark.parametrize("text", ["", "\n\n", "# time,lat,lon\n", " \n;;\n"])
def test_a_file_without_a_head_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="holds no table"):
        find_head(Lines([text.encode()], "a"), known)


def test_a_first_line_that_is_no_head_is_refused() -> None:
    with pytest.raises(InputError, match="line 2: is too long for the names of columns"):
        find_head(Lines([b"\n" + b"lat," * 40_000], "a"), known)
