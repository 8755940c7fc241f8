"""Lines of a log with their numbers, from pieces of any size and in bounded memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

__all__ = ["LINE_LIMIT_BYTES", "numbered_lines"]

_BLOCK_BYTES = 1 << 18
"""Own choice: how much is split into lines at a time, whatever the size of the pieces."""
LINE_LIMIT_BYTES = 1 << 16
"""Own choice: longer lines are handed over in parts of this length; no sentence needs a hundredth of it."""


def numbered_lines(chunks: Iterable[bytes]) -> Iterator[tuple[int, bytes]]:
    """Yield each line with its number, from 1, without its end.

    Parameters
    ----------
    chunks : iterable of bytes
        The file in order; where it is cut makes no difference.

    Notes
    -----
    Lines are counted by line feeds, as most tools do. What a carriage return parts is handed over one by
    one with the same number, and so are the parts of a line beyond `LINE_LIMIT_BYTES`.
    """
    number = 1
    rest = b""
    for block in _blocks(chunks):
        *lines, rest = (rest + block).split(b"\n")
        for line in lines:
            line = line.rstrip(b"\r")
            if len(line) <= LINE_LIMIT_BYTES and b"\r" not in line:
                yield number, line
            else:
                yield from ((number, part) for part in _parts(line))
            number += 1
        while len(rest) > 2 * LINE_LIMIT_BYTES:
            yield from ((number, part) for part in _parts(rest[:LINE_LIMIT_BYTES]))
            rest = rest[LINE_LIMIT_BYTES:]
    yield from ((number, part) for part in _parts(rest.rstrip(b"\r")))


def _blocks(chunks: Iterable[bytes]) -> Iterator[bytes]:
    """Yield the same bytes in blocks of even size."""
    gathered: list[bytes] = []
    size = 0
    for chunk in chunks:
        for start in range(0, len(chunk), _BLOCK_BYTES):
            piece = chunk[start : start + _BLOCK_BYTES]
            gathered.append(piece)
            size += len(piece)
            if size >= _BLOCK_BYTES:
                yield b"".join(gathered)
                gathered.clear()
                size = 0
    yield b"".join(gathered)


def _parts(line: bytes) -> Iterator[bytes]:
    for start in range(0, len(line), LINE_LIMIT_BYTES):
        yield from line[start : start + LINE_LIMIT_BYTES].split(b"\r")
