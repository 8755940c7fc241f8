"""What each line and pattern on the chart means; with scripts on, also the switches of the layers."""

from __future__ import annotations

from collections.abc import Iterator

from towzone.model.result import Status
from towzone.model.track import TrackKind
from towzone.model.zone import ZoneKind
from towzone.record.catalogue import say
from towzone.record.drawn.activity import Doing
from towzone.record.drawn.coast import Coast
from towzone.record.drawn.plan import SHAPES
from towzone.record.drawn.scene import RowDrawing, Scene
from towzone.record.drawn.zones import ZoneDrawing
from towzone.record.text import escape
from towzone.record.words import KIND, STATUS

__all__ = ["legend", "patterns"]

_HATCH = {
    ZoneKind.CLOSED_AREA: (9, '<path d="M-2 11L11 -2M-2 2L2 -2M7 11L11 7"/>'),
    ZoneKind.SAFETY_ZONE: (7, '<circle cx="2" cy="2" r="1.1"/><circle cx="5.5" cy="5.5" r="1.1"/>'),
    ZoneKind.OTHER: (9, '<path d="M0 4.5H9"/>'),
    ZoneKind.CABLE: (8, '<path d="M-2 -2L10 10"/>'),
    ZoneKind.PIPELINE: (8, '<path d="M4 0V8"/>'),
    ZoneKind.OBSTRUCTION: (8, '<path d="M2 2L6 6M2 6L6 2"/>'),
}
_GAP_HATCH = (12, '<path d="M-1 1L1 -1M-1 13L13 -1M11 13L13 11"/>')
_PIN_SHAPES = {
    Status.INSIDE: '<circle class="pin s-inside" cx="22" cy="9" r="8"/>',
    Status.TOO_CLOSE: '<circle class="pin s-too_close" cx="22" cy="9" r="8"/>'
    '<circle class="pin-ring" cx="22" cy="9" r="5.5"/>',
    Status.UNDETERMINED: '<rect class="pin s-undetermined" x="14" y="1" width="16" height="16" rx="2"/>',
}


def patterns() -> str:
    """Return the fill patterns both charts use, as an ``svg`` without size."""
    shapes = "".join(_pattern(f"p-{kind}", f"pattern k-{kind}", *hatch) for kind, hatch in _HATCH.items())
    shapes += _pattern("p-gap", "pattern", *_GAP_HATCH)
    return f'<svg class="patterns" width="0" height="0" aria-hidden="true"><defs>{shapes}</defs></svg>'


def _pattern(name: str, classes: str, size: int, shape: str) -> str:
    return (
        f'<pattern id="{name}" class="{classes}" width="{size}" height="{size}" '
        f'patternUnits="userSpaceOnUse">{shape}</pattern>'
    )


def legend(scene: Scene, coast: Coast | None) -> str:
    """Return the key for what is on this chart, with a switch for each layer."""
    parts = (_rows(scene), _tracks(scene), _gear(scene), _zones(scene.zones), _paper(coast))
    items = "".join(item for part in parts for item in part)
    return (
        f'<aside class="legend" aria-label="{_say("title")}">'
        f"<details open><summary>{_say('summary')}</summary><ul>{items}</ul></details></aside>"
    )


def _rows(scene: Scene) -> Iterator[str]:
    drawn = [row for row in scene.rows if row.numbered or row.highlights]
    matter = [row for row in drawn if row.matters]
    if matter:
        yield _item("findings", _line("closest"), _say("findings"))
        statuses = {row.row.status for row in matter if row.numbered}
        yield from (_key(shape, escape(STATUS[s])) for s, shape in _PIN_SHAPES.items() if s in statuses)
        yield from _stretches(matter)
        if any(row.line is not None for row in matter):
            yield _key(_line("closest"), _say("closest"))
    if any(not row.matters and row.line is not None for row in drawn):
        yield _item("others", _line("closest s-clear"), _say("others"), on=False)


def _stretches(rows: list[RowDrawing]) -> Iterator[str]:
    kinds = {highlight.kind for row in rows for highlight in row.highlights}
    if "inside" in kinds:
        yield _key(_line("highlight inside") + _line("highlight-core"), _say("inside"))
    if "close" in kinds:
        yield _key(_line("highlight close"), _say("close"))


def _tracks(scene: Scene) -> Iterator[str]:
    kinds = {track.track.kind for track in scene.tracks}
    runs = [run for track in scene.tracks for run in track.runs]
    if TrackKind.COMPLETED in kinds:
        yield _item("track-completed", _line("track a-towing"), _say("track_completed"))
        doing = {run.activity for run in runs if run.first < run.last}
        for one in Doing:
            if one in doing and one is not Doing.PLANNED:
                yield _key(_line(f"track a-{one}"), _say(f"doing.{one}"))
    if TrackKind.PLANNED in kinds:
        yield _item("track-planned", _line("track t-planned"), _say(_planned(scene)))
    if any(track.corrected for track in scene.tracks):
        hollow = _line("track corrected") + _line("track-core")
        yield _item("track-corrected", hollow, _say("track_corrected"))
    if scene.plan and any(run.activity in (Doing.SHOOTING, Doing.HAULING) for run in runs):
        yield _key(_line("track t-planned a-hauling"), _say("run_in"))
    yield from _plan(scene)
    if any(run.first == run.last for run in runs):
        yield _key('<path class="lone-fix" d="M22 9h0"/>', _say("alone"))
    gaps = [gap for track in scene.tracks for gap in track.gaps]
    if gaps:
        yield _item("gaps", _line("gap"), _say("gaps"))
        yield from ([_key(_line("gap open"), _say("gap_open"))] if any(g.leaves_open for g in gaps) else [])
    if any(gap.outline is not None for gap in gaps):
        shape = '<ellipse class="gap-ellipse" cx="22" cy="9" rx="19" ry="7"/>'
        yield _item("ellipses", shape, _say("ellipses"), on=any(gap.leaves_open for gap in gaps))


def _planned(scene: Scene) -> str:
    """Return the entry for planned lines: of a plan they are those that were asked about."""
    return "track_wanted" if scene.plan else "track_planned"


def _plan(scene: Scene) -> Iterator[str]:
    kinds = {mark.kind for mark in scene.plan}
    if not kinds:
        return
    yield _item("plan", _plan_swatch("corner"), _say("plan.corner"))
    if any(mark.corrected and mark.kind == "corner" for mark in scene.plan):
        yield _key(_plan_swatch("corner", " corrected"), _say("plan.corrected_corner"))
    others = ("begins", "haul_call", "contact", "narrowest")
    yield from (_key(_plan_swatch(kind), _say(f"plan.{kind}")) for kind in others if kind in kinds)


def _plan_swatch(kind: str, more: str = "") -> str:
    return f'<path class="plan-mark p-{kind}{more}" transform="translate(22 9)" d="{SHAPES[kind]}"/>'


def _gear(scene: Scene) -> Iterator[str]:
    if any(drawing.corridor for drawing in scene.gear):
        yield _item("gear", '<rect class="gear corridor" x="2" y="3" width="40" height="12"/>', _say("gear"))
    if any(drawing.likely for drawing in scene.gear):
        yield _item(
            "likely", '<rect class="gear likely" x="2" y="3" width="40" height="12"/>', _say("likely")
        )
    if any(row.likely_at is not None for row in scene.rows):
        yield _key('<circle class="likely-at" cx="22" cy="9" r="6"/>', _say("likely_at"))
    if any(drawing.track.corrected for drawing in scene.gear):
        shape = '<rect class="gear corridor corrected" x="2" y="3" width="40" height="12"/>'
        edge = '<rect class="gear likely corrected" x="2" y="3" width="40" height="12"/>'
        yield _key(shape + edge, _say("gear_corrected"))
    styles = {path.style for drawing in scene.gear for path in drawing.paths}
    if styles:
        yield _item("parts", _line("gear g-door"), _say("parts"))
        yield from (_key(_line(f"gear g-{s}"), _say(s)) for s in ("door", "clump", "net") if s in styles)


def _zones(zones: tuple[ZoneDrawing, ...]) -> Iterator[str]:
    present = {drawing.zone.kind for drawing in zones}
    for kind in ZoneKind:
        if kind in present:
            yield _item(f"zone-{kind}", _zone_swatch(kind), escape(KIND[kind]))
    off = next((drawing.zone.kind for drawing in zones if not drawing.in_force), None)
    if off is not None:
        yield _key(_zone_swatch(off, " off"), _say("off"))
    inside = next((drawing.zone.kind for drawing in zones if drawing.zone.rules.allowed_only_inside), None)
    if inside is not None:
        core = '<rect class="zone-core" x="4" y="4" width="36" height="10"/>'
        yield _key(
            f'<rect class="zone k-{inside} area outside" x="4" y="4" width="36" height="10"/>{core}',
            _say("outside"),
        )
    margins = [drawing.zone.kind for drawing in zones if drawing.margin]
    if margins:
        yield _item("margins", _line(f"margin m-{margins[0]}"), _say("margins"))


def _paper(coast: Coast | None) -> Iterator[str]:
    yield _item("names", '<text class="name" x="22" y="14">Aa</text>', _say("names"))
    if coast is not None:
        yield _item("coast", '<rect class="land" x="2" y="2" width="40" height="14"/>', _say("coast"))
    yield _item("grid", _line("grid"), _say("grid"))


def _say(entry: str) -> str:
    return escape(say(f"chart.key.{entry}"))


def _key(swatch: str, word: str) -> str:
    return f'<li class="key">{_swatch(swatch)}<span>{word}</span></li>'


def _item(layer: str, swatch: str, word: str, *, on: bool = True) -> str:
    checked = " checked" if on else ""
    return (
        f'<li><label><input type="checkbox" class="needs-script" data-layer="{layer}"{checked}>'
        f"{_swatch(swatch)}<span>{word}</span></label></li>"
    )


def _swatch(drawn: str) -> str:
    return f'<svg class="swatch" width="44" height="18" aria-hidden="true">{drawn}</svg>'


def _line(name: str) -> str:
    return f'<path class="{name}" d="M1 9H43"/>'


def _zone_swatch(kind: ZoneKind, more: str = "") -> str:
    if kind in (ZoneKind.CABLE, ZoneKind.PIPELINE):
        return _line(f"zone k-{kind} line{more}")
    if kind is ZoneKind.OBSTRUCTION:
        return f'<circle class="zone k-{kind} point{more}" cx="22" cy="9" r="4"/>'
    return f'<rect class="zone k-{kind} area{more}" x="2" y="2" width="40" height="14"/>'
