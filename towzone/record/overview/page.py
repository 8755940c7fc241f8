"""The overview of an audit of many vessels: one HTML file, worst first, that needs no network."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from towzone.caution import CAUTION
from towzone.model.fleet import FleetTotals, VesselLine, worst_first
from towzone.record.assets import overview_script, overview_style
from towzone.record.catalogue import markup_count, said_under, say
from towzone.record.island import dump
from towzone.record.overview.headline import first_screen
from towzone.record.overview.ledger import PRINTED, Ledger, ledger_data, ledger_part
from towzone.record.overview.picture import picture_part
from towzone.record.overview.vessels import vessel_ledger
from towzone.record.overview.zones import input_ledger, unread_ledger, zone_ledger
from towzone.record.proof.seal import DIGEST_ELEMENT
from towzone.record.proof.versions import computed_with
from towzone.record.sections.lists import evidence_table, pairs_table, section
from towzone.record.sections.marks import SHAPE
from towzone.record.sections.paper import paper_style
from towzone.record.sections.plain_table import none
from towzone.record.shell import PageParts, whole_page
from towzone.record.text import SENTENCE, escape, shown

__all__ = ["render_overview"]

_START = "towzoneOverview();"

_MOST_ASSUMPTIONS = 40
"""Those of most vessels. Own choice: many more hold for one vessel alone, and stand in its record."""


def render_overview(totals: FleetTotals, vessels: Iterable[VesselLine], records: Collection[str] = ()) -> str:
    """Return the overview of an audit as the text of one HTML file.

    Parameters
    ----------
    totals : FleetTotals
    vessels : iterable of VesselLine
        All of them, in any order.
    records : collection of str
        Names of the records made of vessels (`towzone.model.fleet.record_name`), in ``records`` beside it.

    Returns
    -------
    str
        To be written as UTF-8 with newlines as they are; the same arguments and installed versions give the
        same text.
    """
    lines = worst_first(vessels)
    fleet = vessel_ledger(totals, lines, records)
    zones, unread, inputs = zone_ledger(totals), unread_ledger(totals), input_ledger(totals)
    return whole_page(
        PageParts(
            title=escape(say("overview.title.page")),
            comment="",
            styles=(("style", overview_style()), ("paper-style", paper_style())),
            body=(
                ("answer", first_screen(totals, lines)),
                ("vessels", f"{_part(fleet)}\n{picture_part(lines)}"),
                ("zones", _part(zones)),
                ("evidence", "\n".join(_evidence(totals, unread, inputs))),
                ("footer", f"{_footer()}\n</main>"),
            ),
            islands=(
                ("words", dump(said_under("overview.script"))),
                ("shapes", dump(SHAPE)),
                ("ledgers", dump([ledger_data(one) for one in (fleet, zones, unread, inputs)])),
            ),
            scripts=(("script", overview_script()), ("start", _START)),
            made_with={"towzone": totals.version, **computed_with()},
        )
    )


def _part(ledger: Ledger) -> str:
    name = ledger.name
    title = escape(say(f"overview.{name}.title"))
    content = ledger_part(ledger) if ledger.entries else none(escape(say(f"overview.{name}.none")))
    return (
        f'<section class="ledger-part" id="{name}" aria-labelledby="{name}-title">'
        f'<h2 id="{name}-title">{title}</h2>\n{content}</section>'
    )


def _evidence(totals: FleetTotals, unread: Ledger, inputs: Ledger) -> Iterator[str]:
    if unread.entries:
        yield section("unread", ledger_part(unread), len(unread.entries), opened=True)
    yield section("granted", _assumptions(totals), len(totals.assumptions), opened=True)
    yield section("warnings", _remarks(totals), len(totals.remarks), opened=bool(totals.remarks))
    listed = ledger_part(inputs) if inputs.entries else none(escape(say("evidence.none_stated")))
    yield section("inputs", listed, len(inputs.entries))
    yield section("settings", pairs_table(totals.settings, "evidence.settings.caption"))
    yield section("methods", pairs_table(totals.methods, "evidence.methods.caption"))
    yield section("versions", _versions(totals))


def _assumptions(totals: FleetTotals) -> str:
    if not totals.assumptions:
        return none(escape(say("evidence.none_stated")))
    items = "".join(
        f"<li>{shown(text, SENTENCE)} "
        f'<span class="how-many">{markup_count("overview.assumptions.vessels", count)}</span></li>'
        for text, count in totals.assumptions[:_MOST_ASSUMPTIONS]
    )
    left = len(totals.assumptions) - _MOST_ASSUMPTIONS
    more = f'<p class="note">{markup_count("overview.assumptions.more", left)}</p>' if left > 0 else ""
    return f"<ul>{items}</ul>{more}"


def _remarks(totals: FleetTotals) -> str:
    """Return the remarks on inputs as a list; each names its file and place itself."""
    if not totals.remarks:
        return none(escape(say("evidence.none")))
    items = "".join(f"<li>{shown(text, SENTENCE)}</li>" for text in totals.remarks[:PRINTED])
    left = len(totals.remarks) - PRINTED
    more = f'<p class="note">{markup_count("overview.remarks.more", left)}</p>' if left > 0 else ""
    return f"<ul>{items}</ul>{more}"


def _versions(totals: FleetTotals) -> str:
    versions = {"towzone": totals.version, **computed_with()}
    rows = [(escape(name), shown(version, 80)) for name, version in versions.items()]
    return evidence_table("versions", ("part", "version"), rows)


def _footer() -> str:
    lines = [
        f"<strong>{escape(say('overview.file.digest'))}</strong> {DIGEST_ELEMENT}",
        *(escape(say(f"overview.file.{what}")) for what in ("verify", "beside", "print", "keep")),
        escape(CAUTION),
    ]
    paragraphs = "\n".join(f"<p>{line}</p>" for line in lines)
    title = escape(say("evidence.title.file"))
    head = f'<section class="foot" aria-labelledby="file-title"><h2 id="file-title">{title}</h2>'
    return f"{head}\n{paragraphs}\n</section>"
