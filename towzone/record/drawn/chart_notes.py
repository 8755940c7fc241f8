"""What a reader must know of how the chart was drawn beyond its key, as sentences."""

from __future__ import annotations

from towzone.record.catalogue import say, say_count
from towzone.record.drawn.activity import Doing
from towzone.record.drawn.gaps import ALL_OUTLINES, MOST_OUTLINES
from towzone.record.drawn.scene import Scene
from towzone.record.drawn.thin import LIKELY_LONG_M, THIN_ABOVE, THIN_IN_TIME_M

__all__ = ["chart_notes"]


def chart_notes(scene: Scene) -> list[str]:
    """Return the sentences that hold for a scene, as plain text."""
    notes = []
    runs = [run for track in scene.tracks for run in track.runs]
    if any(run.activity in (Doing.TOWING, Doing.SHOOTING, Doing.HAULING) for run in runs):
        notes.append(say("chart.notes.activity"))
    if scene.fixes_drawn < scene.fixes_used:
        notes.append(say("chart.notes.in_time", metres=f"{THIN_IN_TIME_M:g}"))
    if scene.fixes_used > THIN_ABOVE and any(gear.likely for gear in scene.gear):
        notes.append(say("chart.notes.likely", metres=f"{LIKELY_LONG_M:g}"))
    gaps = [gap for track in scene.tracks for gap in track.gaps]
    if any(gap.outline is not None for gap in gaps):
        notes.append(say("chart.notes.reach"))
    if any(len(track.gaps) > ALL_OUTLINES for track in scene.tracks):
        notes.append(say("chart.notes.few_reaches", all=ALL_OUTLINES, most=MOST_OUTLINES))
    rough = [zone.outline.off_m for zone in scene.zones if zone.outline.off_m > 0.0]
    if rough:
        notes.append(say_count("chart.notes.fewer_corners", len(rough), metres=f"{max(rough):.1f}"))
    return notes
