"""The seal of a record: any change is noticed, and told where it is."""

from __future__ import annotations

import hashlib
import json
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from result_builders import build_result, result_json
from sealed_records import DIGEST, LIST, digest_of, listed, sealed, sealed_anew

from towzone.errors import InputError
from towzone.record.catalogue import say
from towzone.record.page import render_record
from towzone.record.proof.reading import read_record, result_of
from towzone.record.proof.seal import DIGEST_ELEMENT, LIST_PLACE, seal
from towzone.record.proof.whereabouts import ChangeKind
from towzone.tables.rows_csv import to_csv


@pytest.fixture(scope="module")
def record() -> bytes:
    """A whole record, as a check writes it."""
    result = build_result()
    return render_record(result, result_json(result), to_csv(result)).encode()


SMALL = sealed('{"a": [1, 2, 3]}')


def changed_parts(content: bytes) -> list[str]:
    """Names of the parts said to be changed, each once."""
    reading = read_record(content, "r")
    assert not reading.unchanged
    assert reading.changes
    return list(dict.fromkeys(change.part for change in reading.changes))


def span(content: bytes, name: str) -> tuple[int, int]:
    return next((begin, end) for part, begin, end in listed(content) if part == name)


def line_of(content: bytes, at: int) -> int:
    return content[:at].count(b"\n") + 1


def test_an_unchanged_record_reads_as_unchanged_and_states_its_digest(record: bytes) -> None:
    reading = read_record(record, "r")

    assert reading.unchanged
    assert reading.changes == ()
    assert reading.stated == reading.computed == digest_of(record)


def test_the_list_parts_the_whole_file_and_tells_the_digest_of_each(record: bytes) -> None:
    (text,) = LIST.findall(record)
    told = {part["name"]: part["sha256"] for part in json.loads(text)["parts"]}
    spans = listed(record)

    assert {"head", "policy", "title", "style", "answer", "rows", "evidence", "words"} <= set(told)
    assert {"chart-data", "result", "leaflet", "script", "start", "end"} <= set(told)
    for name, begin, end in spans:
        if name not in ("parts", "digest", "footer"):
            assert told[name] == hashlib.sha256(record[begin:end]).hexdigest()
    assert record[slice(*span(record, "digest"))] == DIGEST.findall(record)[0]


def test_every_part_of_a_record_has_a_name_in_words(record: bytes) -> None:
    for name, _, _ in listed(record):
        assert say(f"verify.part.{name}")


def test_two_hundred_changes_of_single_bytes_are_all_located(record: bytes) -> None:
    """At least eight in each part, so that the small ones are met as well as the large."""
    chance = random.Random(20260612)
    spans = listed(record)
    places = [(name, chance.randrange(a, b)) for name, a, b in spans for _ in range(8)]
    while len(places) < 200:
        at = chance.randrange(len(record))
        places.append((next(name for name, a, b in spans if a <= at < b), at))
    for name, at in places:
        other = bytes([chance.choice([c for c in range(256) if c != record[at]])])
        content = record[:at] + other + record[at + 1 :]
        reading = read_record(content, "r")

        assert not reading.unchanged
        assert {change.part for change in reading.changes} == {name}, (name, at, other)
        for change in reading.changes:
            if change.first_line is not None and change.last_line is not None:
                assert change.first_line <= line_of(content, at) <= change.last_line


@pytest.mark.parametrize("name", ["answer", "rows", "result", "end"])
@pytest.mark.parametrize("more", [b"x", b"<p>\n</p>\n" * 40])
def test_an_insertion_is_located_with_its_size(name: str, more: bytes) -> None:
    begin, end = span(SMALL, name)
    at = (begin + end) // 2
    (change,) = read_record(SMALL[:at] + more + SMALL[at:], "r").changes

    assert (change.part, change.kind, change.more_bytes) == (name, ChangeKind.CHANGED, len(more))
    assert change.first_line == line_of(SMALL, begin)


@pytest.mark.parametrize("name", ["answer", "rows", "result"])
def test_a_deletion_is_located_with_its_size(name: str) -> None:
    begin, end = span(SMALL, name)
    (change,) = read_record(SMALL[: begin + 3] + SMALL[end - 2 :], "r").changes

    assert (change.part, change.kind) == (name, ChangeKind.CHANGED)
    assert change.more_bytes == begin + 3 - (end - 2)


def test_what_is_put_between_two_parts_is_located_before_the_second() -> None:
    begin, _ = span(SMALL, "rows")
    (change,) = read_record(SMALL[:begin] + b"<p>more</p>" + SMALL[begin:], "r").changes

    assert (change.part, change.kind, change.more_bytes) == ("rows", ChangeKind.INSERTED_BEFORE, 11)
    assert change.first_line == line_of(SMALL, begin)


def test_a_part_taken_out_whole_is_named() -> None:
    begin, end = span(SMALL, "rows")
    (change,) = read_record(SMALL[:begin] + SMALL[end:], "r").changes

    assert (change.part, change.kind, change.more_bytes) == ("rows", ChangeKind.MISSING, begin - end)


def test_two_changed_parts_are_named_and_those_between_are_not() -> None:
    first, last = span(SMALL, "answer")[0] + 5, span(SMALL, "result")[1] - 20
    content = bytearray(SMALL)
    content[first] ^= 1
    content[last] ^= 1
    assert changed_parts(bytes(content)) == ["answer", "result"]
    assert changed_parts(SMALL[:first] + b"more" + SMALL[first:last] + b"x" + SMALL[last + 1 :]) == [
        "answer",
        "result",
    ]


def test_parts_that_changed_places_are_both_named() -> None:
    (a, b), (c, d) = span(SMALL, "answer"), span(SMALL, "rows")
    content = SMALL[:a] + SMALL[c:d] + SMALL[a:b] + SMALL[d:]
    assert changed_parts(content) == ["answer", "rows"]


def test_the_list_moved_to_another_place_is_named_with_what_it_passed() -> None:
    (a, b), (c, d) = span(SMALL, "parts"), span(SMALL, "answer")
    assert changed_parts(SMALL[:a] + SMALL[c:d] + SMALL[a:b] + SMALL[d:]) == ["parts", "answer"]


def test_one_of_two_equal_parts_taken_out_is_missing() -> None:
    """Laid from the front and from the back, what is left fits both; it counts once."""
    twins = [("one", "<hr>\n"), ("two", "<hr>\n"), ("footer", f"{DIGEST_ELEMENT}\n")]
    content = seal([LIST_PLACE, *twins], {}).encode()
    (change,) = read_record(content.replace(b"<hr>\n", b"", 1), "r").changes

    assert (change.part, change.kind, change.more_bytes) == ("two", ChangeKind.MISSING, -5)


def test_a_digest_of_other_characters_is_named_beside_another_change() -> None:
    (stated,) = DIGEST.findall(SMALL)
    content = SMALL.replace(stated, b"x" * 64).replace(b"</html>", b"</htmx>")
    assert changed_parts(content) == ["digest", "end"]


@pytest.mark.parametrize("name", ["answer", "footer", "result", "end"])
def test_a_file_cut_off_names_the_part_in_which_it_ends(name: str) -> None:
    begin, _ = span(SMALL, name)
    (change,) = read_record(SMALL[: begin + 4], "r").changes

    assert (change.part, change.kind) == (name, ChangeKind.CUT_OFF)
    assert change.more_bytes == begin + 4 - len(SMALL)


def test_a_file_cut_off_between_two_parts_names_the_one_that_is_gone() -> None:
    begin, _ = span(SMALL, "result")
    (change,) = read_record(SMALL[:begin], "r").changes

    assert (change.part, change.kind, change.more_bytes) == (
        "result",
        ChangeKind.CUT_OFF,
        begin - len(SMALL),
    )


def test_what_was_added_at_the_end_is_told() -> None:
    (change,) = read_record(SMALL + b"<script>1</script>", "r").changes

    assert (change.kind, change.more_bytes) == (ChangeKind.APPENDED, 18)
    assert change.first_line == line_of(SMALL, len(SMALL))


def test_what_was_added_at_the_beginning_is_told() -> None:
    (change,) = read_record(b"\xef\xbb\xbf" + SMALL, "r").changes

    assert (change.part, change.kind, change.more_bytes) == ("head", ChangeKind.INSERTED_BEFORE, 3)


@pytest.mark.parametrize("end", [b"\r\n", b"\r"])
def test_changed_line_ends_are_told_as_that_and_are_a_change(end: bytes) -> None:
    reading = read_record(SMALL.replace(b"\n", end), "r")

    assert not reading.unchanged
    assert reading.line_ends
    assert reading.changes == ()
    assert reading.stated == digest_of(SMALL) != reading.computed


def test_a_change_beside_changed_line_ends_is_located_too() -> None:
    reading = read_record(SMALL.replace(b"<td>row", b"<td>raw").replace(b"\n", b"\r\n"), "r")

    assert reading.line_ends
    assert [change.part for change in reading.changes] == ["rows"]


def test_a_single_line_end_that_was_changed_is_a_change_of_its_part() -> None:
    assert changed_parts(SMALL.replace(b"<table>\n", b"<table>\r\n")) == ["rows"]


def test_another_digest_is_told_as_that_and_nothing_else() -> None:
    assert changed_parts(DIGEST.sub(b'<code id="digest">' + b"ab" * 32 + b"</code>", SMALL)) == ["digest"]


def test_a_second_digest_shown_in_the_page_is_a_change() -> None:
    forged = SMALL.replace(b"<p>one</p>", b'<code id="digest">' + b"cd" * 32 + b"</code>")
    reading = read_record(forged, "r")

    assert not reading.unchanged
    assert reading.stated is None
    assert "answer" in changed_parts(forged)


@pytest.mark.parametrize("old", [b'"bytes":', b'"sha256":', b'"name":', b'"made_with":', b'"seal":'])
def test_a_change_of_the_list_is_told_as_one_of_the_list(old: bytes) -> None:
    assert changed_parts(SMALL.replace(old, old.upper(), 1)) == ["parts"]


def test_a_digit_of_a_digest_in_the_list_is_a_change_of_the_list_not_of_that_part() -> None:
    (text,) = LIST.findall(SMALL)
    digest = json.loads(text)["parts"][2]["sha256"].encode()
    other = (b"1" if digest[:1] == b"0" else b"0") + digest[1:]
    assert changed_parts(SMALL.replace(digest, other)) == ["parts"]


def test_a_second_digest_of_any_form_is_a_change_even_sealed_anew() -> None:
    """Else a forger could show the digest that was noted, and seal what is shown with another."""
    shown = b'<code id="digest">'
    assert len(b"<p>one</p>\n<p>two</p>") == len(shown) + 3
    forged = sealed_anew(SMALL.replace(b"<p>one</p>\n<p>two</p>", shown + b"abc"))

    assert not read_record(forged, "r").unchanged


def test_the_digest_alone_computed_anew_does_not_make_a_changed_record_unchanged() -> None:
    forged = SMALL.replace(b"<td>row", b"<td>raw")
    forged = forged.replace(DIGEST.findall(forged)[0], digest_of(forged).encode())

    assert changed_parts(forged) == ["rows"]


def test_a_record_sealed_anew_by_a_forger_reads_as_unchanged_but_has_another_digest() -> None:
    """The limit that the command states: only a digest noted elsewhere or a signature shows this."""
    forged = sealed_anew(SMALL.replace(b"<td>row", b"<td>raw"))
    reading = read_record(forged, "r")

    assert reading.unchanged
    assert reading.computed != digest_of(SMALL)


@pytest.mark.parametrize("content", [b"", b"<html></html>", b"\x89PNG\r\n\x1a\n", SMALL[:10]])
def test_what_is_no_record_is_refused(content: bytes) -> None:
    with pytest.raises(InputError, match="not a record"):
        read_record(content, "r")


def test_a_seal_of_a_form_that_is_not_known_is_refused() -> None:
    other = sealed_anew(SMALL.replace(b'"seal":"towzone.seal/1"', b'"seal":"towzone.seal/9"'))
    with pytest.raises(InputError, match="does not know"):
        read_record(other, "r")


@pytest.mark.parametrize(
    "pieces",
    [
        [("a", DIGEST_ELEMENT)],
        [LIST_PLACE, ("a", "")],
        [LIST_PLACE, LIST_PLACE, ("a", DIGEST_ELEMENT)],
        [LIST_PLACE, ("a", DIGEST_ELEMENT), ("b", DIGEST_ELEMENT)],
    ],
    ids=["no-list", "no-digest", "two-lists", "two-digests"],
)
def test_a_page_without_exactly_one_place_for_each_is_not_sealed(pieces: list[tuple[str, str]]) -> None:
    with pytest.raises(ValueError, match="needs one place"):
        seal(pieces, {})


def test_half_characters_are_sealed_as_they_will_be_written() -> None:
    text = seal([LIST_PLACE, ("a", f"\ud800{DIGEST_ELEMENT}\n")], {})

    assert read_record(text.encode(), "r").unchanged
    assert "\\ud800" in text


def forged_list(parts: object) -> bytes:
    """A record with a list of any form whose own digest fits."""
    data = {"list_sha256": "0" * 64, "made_with": {}, "parts": parts, "seal": "towzone.seal/1"}
    blank = b'<script type="application/json" id="parts">' + json.dumps(data, separators=(",", ":")).encode()
    blank += b"</script>"
    own = hashlib.sha256(blank).hexdigest().encode()
    return blank.replace(b"0" * 64, own, 1) + DIGEST_ELEMENT.encode()


@pytest.mark.parametrize(
    "parts",
    [
        None,
        [],
        [1],
        [{"name": "parts", "bytes": 10**30, "sha256": None}, {"name": "digest", "bytes": 64, "sha256": None}],
        [{"name": "parts", "bytes": True, "sha256": None}, {"name": "digest", "bytes": 64, "sha256": None}],
        [{"name": "parts", "bytes": -5, "sha256": None}, {"name": "digest", "bytes": 64, "sha256": None}],
        [{"name": "x" * 10**5, "bytes": 0, "sha256": "a" * 64}] * 3,
        [{"name": "x", "bytes": 0, "sha256": "a" * 64}] * 5000,
    ],
    ids=["none", "empty", "number", "huge", "truth", "negative", "long-name", "many"],
)
def test_a_list_made_to_do_harm_is_a_change_and_no_more(parts: object) -> None:
    assert not read_record(forged_list(parts), "r").unchanged


DEEP = "[" * 100_000
HARMFUL = (DEEP, '{"a":' * 100_000, "9" * 100_000, "NaN", '{"a":NaN}', "[]", "1", '"x"', "", "\ud800")


@pytest.mark.parametrize("text", HARMFUL, ids=range(len(HARMFUL)))
def test_a_result_that_cannot_be_read_is_none_and_no_crash(text: str) -> None:
    content = SMALL.replace(b'{"a": [1, 2, 3]}', text.encode("utf-8", "surrogatepass"))
    assert result_of(content) is None


def test_two_results_in_one_record_are_none() -> None:
    island = b'<script type="application/json" id="result">{}</script>'
    assert result_of(SMALL) == {"a": [1, 2, 3]}
    assert result_of(SMALL + island) is None


@given(st.data())
def test_torn_and_mixed_records_are_told_as_changed_or_refused(data: st.DataObject) -> None:
    """Pieces of a record, doubled, swapped, cut, with noise between: never a crash, never 'unchanged'."""
    count = data.draw(st.integers(1, 5))
    cuts = [
        data.draw(st.tuples(st.integers(0, len(SMALL)), st.integers(0, len(SMALL)))) for _ in range(count)
    ]
    noise = data.draw(st.sampled_from([b"", b"\x00", b'<code id="digest">', b"\r\n", b"</script>", b"\xff"]))
    content = noise.join(SMALL[min(cut) : max(cut)] for cut in cuts)
    if content == SMALL:
        return
    try:
        reading = read_record(content, "r")
    except InputError:
        return
    assert not reading.unchanged
    assert reading.changes or reading.line_ends
