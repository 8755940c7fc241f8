"""The page of a record made again: the figures in it may be right, and what a person sees be others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from towzone.files.outputs import UNENCODABLE
from towzone.model.result import CheckResult
from towzone.record.catalogue import say
from towzone.record.proof.parts import Listed, ListedPart, read_list
from towzone.record.proof.reading import Reading
from towzone.record.proof.seal import LIST_PART
from towzone.record.text import short
from towzone.tables.result_json import to_json

__all__ = ["Page", "PageAgain", "compare_page", "not_compared", "record_of"]

_NAME, _LONGEST = 40, 400


class Page(StrEnum):
    """What came of comparing a page with the one that its result makes."""

    SAME = "same"
    DIFFERENT = "different"
    NOT_COMPARED = "not_compared"


@dataclass(frozen=True, slots=True, kw_only=True)
class PageAgain:
    """A page compared.

    Parameters
    ----------
    page : Page
    parts : tuple of str
        Names of the parts that differ.
    why_not : str
        In words, why it was not compared.
    """

    page: Page
    parts: tuple[str, ...] = ()
    why_not: str = ""


def record_of(result: CheckResult) -> bytes:
    """Return the bytes of the record of a result, as ``towzone check --record`` writes them."""
    from towzone.record.page import render_record
    from towzone.tables.rows_csv import to_csv

    return render_record(result, to_json(result), to_csv(result)).encode("utf-8", UNENCODABLE)


def compare_page(content: bytes, reading: Reading, again: bytes) -> PageAgain:
    """Return whether a record is, byte for byte, the one made again from the same result.

    Parameters
    ----------
    content : bytes
        The record as it is.
    reading : Reading
        What it says of itself.
    again : bytes
        The record made again with what is installed here.
    """
    if not reading.unchanged:
        return not_compared(say("verify.page.changed"))
    if content == again:
        return PageAgain(page=Page.SAME)
    made, found = read_list(again), read_list(content)
    if made is None or found is None:
        message = "an unchanged record, and one just made, have a list of their parts"
        raise ValueError(message)
    others = _other_versions(found.made_with, made.made_with)
    if others:
        return not_compared(say("verify.page.versions", versions=short(others, _LONGEST)))
    return PageAgain(page=Page.DIFFERENT, parts=_other_parts(found, made))


def _other_versions(then: Mapping[str, str], here: Mapping[str, str]) -> str:
    unknown = say("verify.again.version_unknown")
    return "; ".join(
        say(
            "verify.again.version",
            name=short(name, _NAME),
            before=short(then.get(name, unknown), _NAME),
            here=short(here.get(name, unknown), _NAME),
        )
        for name in sorted({*then, *here})
        if then.get(name) != here.get(name)
    )


def _other_parts(found: Listed, made: Listed) -> tuple[str, ...]:
    """Return the names of the parts that two records do not have alike, in the order of the first."""
    names = dict.fromkeys(part.name for part in (*found.parts, *made.parts))
    others = tuple(name for name in names if _of_name(name, found) != _of_name(name, made))
    # The list is another because others are; alone it tells at least that there is a difference.
    return tuple(name for name in others if name != LIST_PART) or (LIST_PART,)


def _of_name(name: str, listed: Listed) -> list[ListedPart]:
    return [part for part in listed.parts if part.name == name]


def not_compared(why: str) -> PageAgain:
    """Return that a page was not compared."""
    return PageAgain(page=Page.NOT_COMPARED, why_not=why)
