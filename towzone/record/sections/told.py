"""One row in a few plain words for a skipper: who came near what, how near, and what was asked for."""

from __future__ import annotations

from dataclasses import dataclass

from towzone.model.result import Activity, CheckResult, Part, Row, Status
from towzone.model.track import TrackKind
from towzone.model.zone import Zone
from towzone.plan.telling import corrected_ids
from towzone.record.catalogue import markup, say
from towzone.record.sections.plain_table import unbroken
from towzone.record.text import escape, shown
from towzone.units import NAUTICAL_MILE_M, format_length

__all__ = ["Teller", "teller"]

_UNSURE_WHERE = frozenset({"position_error", "gear_uncertainty", "rope_bound"})
"""Reasons why a row is open for which it is not sure where the vessel or its gear was."""

_NAME = 80
"""Characters of a name on the first screen. Own choice: two lines of a phone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Teller:
    """What is needed to tell of any row of a result; every text it returns is HTML.

    Parameters
    ----------
    zones : dict of str to Zone
        By ``zone_id``.
    planned : frozenset of str
        ``track_id`` of planned routes.
    several : bool
        Whether there are several tracks, beside corrected lines, so that each has to be named.
    """

    zones: dict[str, Zone]
    planned: frozenset[str]
    several: bool

    def who(self, row: Row) -> str:
        """Return who came near: the vessel or the gear, of which tow and track."""
        return self._of_track(row, markup(_who_key(row, row.track_id in self.planned), tow=str(row.tow)))

    def did(self, row: Row) -> str:
        """Return what a finding is; of a row that is open, what is open."""
        if row.status is Status.UNDETERMINED:
            return self._seen(row) if self.seen(row) else self._doubt(row)
        zone = self.zones[row.zone_id]
        clearance_m = row.clearance_m
        limit_kn = zone.rules.transit_min_speed_kn
        return markup(
            f"page.did.{self._verb(row, zone)}",
            who=self.who(row),
            zone=self.zone(row),
            length="" if clearance_m is None else _length(abs(clearance_m)),
            required=_length(row.margin_m),
            uncertainty=unbroken(f"±{row.uncertainty_m:.1f} m"),
            limit="" if limit_kn is None else unbroken(f"{limit_kn:g} kn"),
        )

    def seen(self, row: Row) -> bool:
        """Return whether a row that is open was where its zone does not want it, beyond any doubt."""
        open_ = row.status is Status.UNDETERMINED and row.reason not in _UNSURE_WHERE
        return open_ and row.clearance_m is not None and row.clearance_m < -row.uncertainty_m

    def how_near(self, row: Row) -> str:
        """Return a finding in brief: the vessel or the gear, and its distance."""
        part = markup(f"page.who.{'the_gear' if row.part is Part.GEAR else 'vessel'}")
        if row.clearance_m is None:
            return markup("page.brief.unknown", who=part)
        key = "inside" if row.clearance_m < 0.0 else "close"
        if self.zones[row.zone_id].rules.allowed_only_inside and row.clearance_m < 0.0:
            key = "outside"
        return markup(f"page.brief.{key}", who=part, length=_length(abs(row.clearance_m)))

    def button(self, number: int, row: Row, words: str = "") -> str:
        """Return the button that shows a row on the chart; ``number`` is its number in the table."""
        label = escape(say("page.worst.show_row", number=number))
        return (
            f'<button type="button" class="show-row s-{row.status}" data-row="{number}" '
            f'aria-label="{label}">{escape(words) or number}</button>'
        )

    def zone(self, row: Row) -> str:
        """Return the name of the zone of a row."""
        return shown(self.zones[row.zone_id].name, _NAME)

    def _seen(self, row: Row) -> str:
        """Return where it was, for that is known, and what is not known of it."""
        zone = self.zones[row.zone_id]
        turned = "outside" if zone.rules.allowed_only_inside else "inside"
        # Whether it was towing is what is said to be open: "perhaps towing" would say it twice.
        vessel = row.activity is Activity.UNKNOWN and row.tow is None and row.part is Part.VESSEL
        was = markup(
            f"page.did.{turned}{self._planned(row)}",
            who=self._of_track(row, markup("page.who.vessel")) if vessel else self.who(row),
            zone=self.zone(row),
            length=_length(abs(row.clearance_m or 0.0)),
        )
        return markup("page.doubt.seen", was=was, open=escape(say(f"page.open.{_open_key(row, zone)}")))

    def _doubt(self, row: Row) -> str:
        turned = self.zones[row.zone_id].rules.allowed_only_inside
        kept = "kept" if row.margin_m > 0.0 else "kept_out"
        return markup(
            f"page.doubt.{'kept_in' if turned else kept}{self._planned(row)}",
            who=self.who(row),
            zone=self.zone(row),
            required=_length(row.margin_m),
        )

    def _of_track(self, row: Row, who: str) -> str:
        return markup("page.who.of_track", who=who, track=shown(row.track_id, _NAME)) if self.several else who

    def _planned(self, row: Row) -> str:
        return "_planned" if row.track_id in self.planned else ""

    def _verb(self, row: Row, zone: Zone) -> str:
        """Return the key of the sentence for a row that is not open."""
        turned = zone.rules.allowed_only_inside
        planned = self._planned(row)
        if row.clearance_m is None:
            return "unknown"
        if row.status is Status.INSIDE:
            return "slow" if row.reason == "slow_transit" else f"{'outside' if turned else 'inside'}{planned}"
        if row.clearance_m < 0.0:
            return f"on_the_limit{planned}"
        if row.reason == "touched" or row.margin_m == 0.0:
            return f"touched{planned}"
        return f"close_inside{planned}" if turned else f"close{planned}"


def teller(result: CheckResult) -> Teller:
    """Return what is needed to tell of the rows of a result."""
    return Teller(
        zones={zone.zone_id: zone for zone in result.zones},
        planned=frozenset(t.track_id for t in result.tracks if t.kind is TrackKind.PLANNED),
        # Corrected lines have nothing to tell of, and a single wanted one needs no name.
        several=len(result.tracks) - len(corrected_ids(result)) > 1,
    )


def _who_key(row: Row, planned: bool) -> str:
    route = planned or row.tow is None
    if row.part is Part.GEAR:
        return f"page.who.gear_of_{'route' if route else 'tow'}"
    if planned:
        return "page.who.route"
    if row.tow is not None:
        return f"page.who.{'shooting' if row.activity is Activity.UNKNOWN else 'tow'}"
    known = {Activity.NOT_TOWING: "not_towing", Activity.UNKNOWN: "unknown"}
    return f"page.who.{known.get(row.activity, 'vessel')}"


def _open_key(row: Row, zone: Zone) -> str:
    """Return the key of what is not known of a row that was seen on the wrong side of a boundary."""
    rules = {"date_unknown": "date", "gear_unknown": "gear"}
    if row.reason in rules:
        return rules[row.reason]
    if row.activity is Activity.UNKNOWN:
        afloat = row.part is Part.GEAR or row.tow is not None
        return "down" if afloat else "towing"
    if row.activity is Activity.NOT_TOWING and zone.rules.transit_min_speed_kn is not None:
        return "speed"
    return "rest"


def _length(length_m: float) -> str:
    """Return a length as HTML: metres, and nautical miles only from one of them on."""
    text = f"{length_m:.1f} m" if length_m < NAUTICAL_MILE_M else format_length(length_m)
    return unbroken(text)
