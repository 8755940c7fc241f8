"""The page as a file: head, policy by hash, styles, body, data and scripts, sealed."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from towzone.record.catalogue import language
from towzone.record.island import data_island
from towzone.record.proof.seal import LIST_PLACE, Piece, seal

__all__ = ["PageParts", "whole_page"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PageParts:
    """Finished pieces of the page; all text in them is escaped already.

    The names of pieces are our own words; `towzone.record.proof.reading` tells by them where a record was
    changed.

    Parameters
    ----------
    title, comment : str
    styles : tuple of Piece
        Each becomes one ``style`` element.
    body : tuple of Piece
        In order, `towzone.record.proof.seal.DIGEST_ELEMENT` once in their text.
    islands : tuple of (str, str)
        Data elements: id, JSON text.
    scripts : tuple of Piece
        Run in this order.
    made_with : mapping of str to str
        Versions by name, for the list of parts.
    """

    title: str
    comment: str
    styles: tuple[Piece, ...]
    body: tuple[Piece, ...]
    islands: tuple[tuple[str, str], ...]
    scripts: tuple[Piece, ...]
    made_with: Mapping[str, str]


def whole_page(parts: PageParts) -> str:
    """Return the text of the whole file, sealed.

    Raises
    ------
    ValueError
        The place of the digest is missing or there twice: a fault of the program.
    """
    return seal(
        (
            ("head", f'<!DOCTYPE html>\n<html lang="{language()}" data-mode="auto">\n<head>\n{_META}'),
            ("policy", _policy(parts.styles, parts.scripts)),
            LIST_PLACE,
            ("title", f"\n<title>{parts.title}</title>\n{_comment(parts.comment)}"),
            *((name, f"<style>{text}</style>\n") for name, text in parts.styles),
            ("body", "</head>\n<body>\n"),
            *((name, f"{html}\n") for name, html in parts.body),
            *((name, f"{data_island(name, text)}\n") for name, text in parts.islands),
            *((name, f"<script>{text}</script>\n") for name, text in parts.scripts),
            ("end", "</body>\n</html>\n"),
        ),
        parts.made_with,
    )


def _comment(text: str) -> str:
    return f"<!--\n{text}\n-->\n" if text else ""


_META = """<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="referrer" content="no-referrer">
"""


def _policy(styles: Iterable[Piece], scripts: Iterable[Piece]) -> str:
    """Return the rule by which the browser itself keeps everything out that is not in the page."""
    return (
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        f"script-src {_hashes(scripts)}; style-src {_hashes(styles)}; img-src data:; "
        "base-uri 'none'; form-action 'none'\">\n"
    )


def _hashes(pieces: Iterable[Piece]) -> str:
    digests = (hashlib.sha256(text.encode()).digest() for _, text in pieces)
    return " ".join(f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests)
