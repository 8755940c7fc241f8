"""What is known of a record after it was verified, for people and as JSON."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from towzone.cli.again import Again, Answer
from towzone.cli.page_again import Page, PageAgain
from towzone.model.result import Outcome, Status
from towzone.record.catalogue import say, say_count
from towzone.record.proof.reading import Reading
from towzone.record.proof.seal import LIST_PART
from towzone.record.proof.whereabouts import Change, ChangeKind
from towzone.record.text import short

__all__ = ["SCHEMA", "Verified", "as_json", "as_text"]

SCHEMA = "towzone.verification/1"

_WIDTH = 110
_COLUMN = 16
_NAME = 60
_MOST_TOLD = 20
"""Of differences on the screen; JSON has them all. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """A record and what was found out about it.

    Parameters
    ----------
    record : str
        Its path as the user wrote it.
    reading : Reading
    result : mapping or None
        The result it carries; untrusted.
    digest_agrees, signature_agrees : bool or None
        ``None`` where none was given to compare with.
    key_file : str or None
    openssl : str
        How to check a signature without towzone.
    again : Again or None
        ``None`` where no inputs were given.
    """

    record: str
    reading: Reading
    result: Mapping[str, Any] | None
    digest_agrees: bool | None
    signature_agrees: bool | None
    key_file: str | None
    openssl: str
    again: Again | None

    @property
    def exit_code(self) -> int:
        """1 when anything does not agree, else 4 when something asked for cannot be told, else 0."""
        answer = self.again.answer if self.again is not None else Answer.SAME
        agree = self.reading.unchanged and self.digest_agrees is not False
        if not agree or self.signature_agrees is False or answer is Answer.DIFFERENT:
            return 1
        if self._page is Page.DIFFERENT:
            return 1
        # Without a digest or a signature from elsewhere the page may be anybody's.
        vouched = self.digest_agrees is True or self.signature_agrees is True
        open_page = self._page is Page.NOT_COMPARED and not vouched
        return 4 if answer is Answer.CANNOT_TELL or open_page else 0

    @property
    def _page(self) -> Page | None:
        page = self.again.page if self.again is not None else None
        return page.page if page is not None else None


def as_text(verified: Verified) -> str:
    """Return what is known of a record, for people."""
    reading = verified.reading
    lines = [f"{short(verified.record)}: {_state(reading)}"]
    lines += _where(reading)
    lines += ["", say("verify.line.digest", digest=reading.computed)]
    if reading.stated is None:
        lines.append(say("verify.line.no_digest"))
    elif reading.stated != reading.computed:
        lines.append(say("verify.line.stated", digest=reading.stated))
    if reading.made_with:
        names = sorted(reading.made_with, key=lambda name: (name != "towzone", name))[:_MOST_TOLD]
        versions = ", ".join(f"{short(name, 40)} {short(reading.made_with[name], 40)}" for name in names)
        lines.append(say("verify.line.made_with", versions=versions))
    lines += [_outcome(verified.result), *_compared(verified), *_again(verified), "", *_limits(verified)]
    return "".join(f"{line}\n" for text in lines for line in _wrapped(text))


def as_json(verified: Verified) -> str:
    """Return what is known of a record as JSON; the schema is in README."""
    reading, again = verified.reading, verified.again
    data = {
        "schema": SCHEMA,
        "record": verified.record,
        "unchanged": reading.unchanged,
        "digest": reading.computed,
        "stated_digest": reading.stated,
        "line_ends_changed": reading.line_ends,
        "changes": [
            {
                "part": change.part,
                "kind": change.kind.value,
                "first_line": change.first_line,
                "last_line": change.last_line,
                "more_bytes": change.more_bytes,
                "words": _change(change),
            }
            for change in reading.changes
        ],
        "made_with": dict(reading.made_with),
        "outcome": _text_of(verified.result, "outcome"),
        "digest_agrees": verified.digest_agrees,
        "signature_agrees": verified.signature_agrees,
        "again": None
        if again is None
        else {
            "answer": again.answer.value,
            "exact": again.exact,
            "reasons": list(again.reasons),
            "other_versions": list(again.versions),
            "page": again.page.page.value if again.page is not None else None,
            "page_parts": list(again.page.parts) if again.page is not None else [],
        },
        "exit_code": verified.exit_code,
    }
    return json.dumps(data, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _state(reading: Reading) -> str:
    return say("verify.record.unchanged" if reading.unchanged else "verify.record.changed")


def _where(reading: Reading) -> Iterator[str]:
    if reading.unchanged:
        return
    if reading.line_ends and not reading.changes:
        yield say("verify.record.line_ends")
        return
    yield say("verify.record.line_ends_too" if reading.line_ends else "verify.record.where")
    yield from (f"  {_change(change)}" for change in reading.changes[:_MOST_TOLD])
    if len(reading.changes) > _MOST_TOLD:
        yield f"  {say('verify.again.more', count=len(reading.changes) - _MOST_TOLD)}"
    if any(change.part == LIST_PART for change in reading.changes):
        yield f"  {say('verify.change.list')}"


def _change(change: Change) -> str:
    key = change.kind.value
    if change.kind is ChangeKind.CHANGED and change.more_bytes:
        key = "longer" if change.more_bytes > 0 else "shorter"
    part, lines = _part(change.part), _lines(change)
    if key == "changed":
        return say("verify.change.changed", part=part, lines=lines)
    return say_count(f"verify.change.{key}", abs(change.more_bytes), part=part, lines=lines)


def _part(name: str) -> str:
    """Return what a part is called; a list that towzone did not write may have names of its own."""
    try:
        return say(f"verify.part.{name}")
    except KeyError:
        return say("verify.part.other", name=short(name, _NAME))


def _lines(change: Change) -> str:
    if change.first_line is None:
        return say("verify.change.no_lines")
    if change.first_line == change.last_line:
        return say("verify.change.line", first=change.first_line)
    return say("verify.change.lines", first=change.first_line, last=change.last_line)


def _outcome(result: Mapping[str, Any] | None) -> str:
    outcome = _text_of(result, "outcome")
    counts = result.get("counts") if result is not None else None
    if outcome not in set(Outcome) or not isinstance(counts, dict):
        return say("verify.line.no_outcome")
    told = [
        say("verify.outcome.count", count=count, status=say(f"shared.status.{status.value}").lower())
        for status in Status
        if isinstance(count := counts.get(status.value), int) and 0 < count < 10**9
    ]
    counted = ", ".join(told) or say("verify.outcome.none")
    return say("verify.line.outcome", outcome=say(f"verify.outcome.{outcome}", counts=counted))


def _text_of(result: Mapping[str, Any] | None, name: str) -> str | None:
    value = result.get(name) if result is not None else None
    return value if isinstance(value, str) else None


def _compared(verified: Verified) -> Iterator[str]:
    if verified.digest_agrees is not None:
        yield say("verify.noted.same" if verified.digest_agrees else "verify.noted.other")
    if verified.signature_agrees is not None:
        key = "verify.signature.good" if verified.signature_agrees else "verify.signature.bad"
        yield say(key, key=short(verified.key_file or ""))


def _again(verified: Verified) -> Iterator[str]:
    again = verified.again
    if again is None:
        return
    if again.answer is Answer.SAME:
        yield say("verify.again.same" if again.exact else "verify.again.same_but", folder=short(again.folder))
    elif again.answer is Answer.DIFFERENT:
        yield say("verify.again.different")
    else:
        yield say("verify.again.cannot")
    yield from (f"  {reason}" for reason in again.reasons[:_MOST_TOLD])
    if len(again.reasons) > _MOST_TOLD:
        yield f"  {say('verify.again.more', count=len(again.reasons) - _MOST_TOLD)}"
    if again.versions:
        yield say("verify.again.versions", versions="; ".join(again.versions))
    yield from _page(again.page)
    if not verified.reading.unchanged and again.answer is not Answer.CANNOT_TELL:
        yield say("verify.again.changed_too")


def _page(page: PageAgain | None) -> Iterator[str]:
    if page is None:
        return
    if page.page is Page.NOT_COMPARED:
        yield say("verify.page.not_compared", why=page.why_not)
        return
    yield say(f"verify.page.{page.page}")
    yield from (f"  {_part(name)}" for name in page.parts[:_MOST_TOLD])


def _limits(verified: Verified) -> Iterator[str]:
    if verified.signature_agrees is None:
        yield say("verify.limits.digest")
    else:
        yield say("verify.limits.openssl", command=verified.openssl)
    if verified.again is None:
        yield say("verify.limits.inputs")
    elif verified.again.answer is Answer.SAME:
        yield say("verify.limits.inputs_given")


def _wrapped(text: str) -> list[str]:
    # What stands in columns goes on in its own.
    indent = " " * (4 if text.startswith("  ") else _COLUMN if text[:_COLUMN].endswith("  ") else 0)
    return textwrap.wrap(
        text, _WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    ) or [""]
