"""The end of the page: its digest, and how to check, print and keep it."""

from __future__ import annotations

from towzone.caution import CAUTION
from towzone.record.catalogue import markup, say
from towzone.record.proof.seal import DIGEST_ELEMENT
from towzone.record.text import escape

__all__ = ["footer"]


def footer() -> str:
    """Return the footer as HTML, with the place of the digest in it."""
    lines = [
        f"<strong>{escape(say('evidence.file.digest'))}</strong> {DIGEST_ELEMENT}",
        escape(say("evidence.file.verify")),
        escape(say("evidence.file.paper")),
        escape(say("evidence.file.print")),
        markup("evidence.file.keep", id="<code>result</code>"),
        escape(CAUTION),
    ]
    paragraphs = "\n".join(f"<p>{line}</p>" for line in lines)
    title = escape(say("evidence.title.file"))
    head = f'<section class="foot" aria-labelledby="file-title"><h2 id="file-title">{title}</h2>'
    return f"{head}\n{paragraphs}\n</section>"
