"""Where a file differs from its list of parts: parts that fit are laid from the front and from the back."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from towzone.record.proof.parts import ListedPart
from towzone.record.proof.seal import LIST_PART, ZEROS

__all__ = ["Change", "ChangeKind", "located"]

_DIGITS = re.compile(rb"[0-9a-f]{64}")


class ChangeKind(StrEnum):
    """What became of a part."""

    CHANGED = "changed"
    MISSING = "missing"
    CUT_OFF = "cut_off"
    INSERTED_BEFORE = "inserted_before"
    APPENDED = "appended"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One place where a file differs.

    Parameters
    ----------
    part : str
        Name of the part as the list has it; untrusted text.
    kind : ChangeKind
    first_line, last_line : int or None
        Lines of the file as it is, from 1, within which the difference lies.
    more_bytes : int
        How many bytes more there are than there were, negative for fewer; of several changed parts
        together, told with each.
    """

    part: str
    kind: ChangeKind
    first_line: int | None = None
    last_line: int | None = None
    more_bytes: int = 0


def located(content: bytes, parts: Sequence[ListedPart], list_element: bytes) -> tuple[Change, ...]:
    """Return where a file differs from its list of parts; empty where every part is in its place.

    Parameters
    ----------
    content : bytes
    parts : sequence of ListedPart
    list_element : bytes
        The element of the list itself, which is known to be as it was written.

    Notes
    -----
    A part that fits at the end of those before it is unchanged, and one that fits at the beginning of those
    behind it. Between them a part counts as unchanged where it fits at its old distance from the front or
    from the back, so that one part that grew does not bring others into doubt.
    """
    return tuple(_Laying(content, parts, list_element).changes())


class _Laying:
    """Parts laid along the bytes of a file."""

    def __init__(self, content: bytes, parts: Sequence[ListedPart], list_element: bytes) -> None:
        self.view, self.content = memoryview(content), content
        self.parts, self.list_element = parts, list_element

    def changes(self) -> Iterator[Change]:
        front, begin = self._from_front()
        back, end = self._from_back(front, begin)
        between, more = self.parts[front:back], end - begin - sum(p.size for p in self.parts[front:back])
        if not between:
            if end > begin:
                last = front == len(self.parts)
                kind = ChangeKind.APPENDED if last else ChangeKind.INSERTED_BEFORE
                yield self._change(self.parts[front - 1 if last else front], kind, begin, end, more)
            return
        if end == begin:
            # Nothing is left of them: the end of the file where nothing follows, else taken out.
            if back == len(self.parts):
                yield self._change(between[0], ChangeKind.CUT_OFF, begin, end, more)
            else:
                kind = ChangeKind.MISSING
                yield from (self._change(part, kind, begin, end, -part.size) for part in between)
            return
        yield from self._changed(between, begin, end, more)

    def _from_front(self) -> tuple[int, int]:
        at = 0
        for index, part in enumerate(self.parts):
            if not self._fits(part, at):
                return index, at
            at += part.size
        return len(self.parts), at

    def _from_back(self, front: int, begin: int) -> tuple[int, int]:
        end = len(self.content)
        for index in range(len(self.parts), front, -1):
            part = self.parts[index - 1]
            if end - part.size < begin or not self._fits(part, end - part.size):
                return index, end
            end -= part.size
        return front, end

    def _changed(self, between: Sequence[ListedPart], begin: int, end: int, more: int) -> Iterator[Change]:
        at = begin
        for part in between:
            if not self._fits(part, at) and not (more and self._fits(part, at + more)):
                if end == len(self.content) < at + part.size:
                    yield self._change(part, ChangeKind.CUT_OFF, min(at, end), end, more)
                    return
                first, stop = min(at, max(at + more, begin)), min(max(at, at + more) + part.size, end)
                yield self._change(part, ChangeKind.CHANGED, first, stop, more)
            at += part.size

    def _fits(self, part: ListedPart, at: int) -> bool:
        if at < 0 or at + part.size > len(self.content):
            return False
        piece = self.view[at : at + part.size]
        if part.sha256 is not None:
            return hashlib.sha256(piece).hexdigest() == part.sha256
        if part.name == LIST_PART:
            return piece == self.list_element
        return part.size == len(ZEROS) and _DIGITS.fullmatch(piece) is not None

    def _change(self, part: ListedPart, kind: ChangeKind, begin: int, end: int, more: int) -> Change:
        first = self.content.count(b"\n", 0, begin) + 1
        inside = self.content.count(b"\n", begin, max(end - 1, begin))
        return Change(part=part.name, kind=kind, first_line=first, last_line=first + inside, more_bytes=more)
