"""What each line and pattern on the chart means; with scripts on, also the switches of the layers."""

from __future__ import annotations

from towzone.model.track import TrackKind
from towzone.model.zone import ZoneKind
from towzone.record.coast import Coast
from towzone.record.scene import Scene
from towzone.record.words import KIND

__all__ = ["legend", "patterns"]


def patterns() -> str:
    """Return the fill patterns both charts use, as an ``svg`` without size."""
    hatch = {
        ZoneKind.CLOSED_AREA: (9, '<path d="M-2 11L11 -2M-2 2L2 -2M7 11L11 7"/>'),
        ZoneKind.SAFETY_ZONE: (7, '<circle cx="2" cy="2" r="1.1"/><circle cx="5.5" cy="5.5" r="1.1"/>'),
        ZoneKind.OTHER: (9, '<path d="M0 4.5H9"/>'),
        ZoneKind.CABLE: (8, '<path d="M-2 -2L10 10"/>'),
        ZoneKind.PIPELINE: (8, '<path d="M4 0V8"/>'),
        ZoneKind.OBSTRUCTION: (8, '<path d="M2 2L6 6M2 6L6 2"/>'),
    }
    shapes = "".join(
        f'<pattern id="p-{kind}" class="pattern k-{kind}" width="{size}" height="{size}" '
        f'patternUnits="userSpaceOnUse">{shape}</pattern>'
        for kind, (size, shape) in hatch.items()
    )
    return f'<svg class="patterns" width="0" height="0" aria-hidden="true"><defs>{shapes}</defs></svg>'


def legend(scene: Scene, coast: Coast | None) -> str:
    """Return the legend for what is on this chart."""
    present = {drawing.zone.kind for drawing in scene.zones}
    items = [_item(f"zone-{kind}", _zone_swatch(kind), KIND[kind]) for kind in ZoneKind if kind in present]
    if any(drawing.margin for drawing in scene.zones):
        items.append(_item("margins", _line("margin"), "Margin, drawn approximately"))
    kinds = {track.track.kind for track in scene.tracks}
    for kind, word in ((TrackKind.COMPLETED, "Track"), (TrackKind.PLANNED, "Planned route")):
        if kind in kinds:
            items.append(_item(f"track-{kind}", _line(f"track t-{kind} tow"), word))
    if any(track.gaps for track in scene.tracks):
        items.append(_item("gaps", _line("gap"), "Not covered by positions"))
    if scene.gear:
        items += _gear(scene)
    items.append(_item("findings", _line("highlight inside"), "Findings and undecided, numbered"))
    if any(not row.matters and row.line is not None for row in scene.rows):
        items.append(_item("others", _line("closest s-clear"), "Closest approach of the others", on=False))
    items.append(_item("names", '<text class="name" x="22" y="14">Aa</text>', "Names"))
    if coast is not None:
        items.append(_item("coast", '<rect class="land" x="2" y="2" width="40" height="14"/>', "Land"))
    items.append(_item("grid", _line("grid"), "Meridians and parallels"))
    return (
        '<aside class="legend" aria-label="Key to the chart"><details open><summary>Key and layers</summary>'
        f"<ul>{''.join(items)}</ul></details></aside>"
    )


def _gear(scene: Scene) -> list[str]:
    """Return the switch of the gear and, below it, what its lines mean."""
    styles = {path.style for drawing in scene.gear for path in drawing.paths}
    lines = {"door": "Gear: doors or beams", "clump": "Gear: clump", "net": "Gear: net"}
    swept = '<rect class="gear corridor" x="2" y="3" width="40" height="12"/>'
    return [
        _item("gear", swept, "Gear: swept, as computed"),
        *(_key(_line(f"gear g-{style}"), word) for style, word in lines.items() if style in styles),
        *([_key(_line("gear likely"), "Gear: likely corridor")] if any(g.likely for g in scene.gear) else []),
    ]


def _key(swatch: str, word: str) -> str:
    return (
        f'<li class="key"><svg class="swatch" width="44" height="18" aria-hidden="true">{swatch}</svg>'
        f"<span>{word}</span></li>"
    )


def _item(layer: str, swatch: str, word: str, *, on: bool = True) -> str:
    checked = " checked" if on else ""
    return (
        f'<li><label><input type="checkbox" class="needs-script" data-layer="{layer}"{checked}>'
        f'<svg class="swatch" width="44" height="18" aria-hidden="true">{swatch}</svg>'
        f"<span>{word}</span></label></li>"
    )


def _line(name: str) -> str:
    return f'<path class="{name}" d="M1 9H43"/>'


def _zone_swatch(kind: ZoneKind) -> str:
    if kind in (ZoneKind.CABLE, ZoneKind.PIPELINE):
        return _line(f"zone k-{kind} line")
    if kind is ZoneKind.OBSTRUCTION:
        return f'<circle class="zone k-{kind} point" cx="22" cy="9" r="4"/>'
    return f'<rect class="zone k-{kind} area" x="2" y="2" width="40" height="14"/>'
