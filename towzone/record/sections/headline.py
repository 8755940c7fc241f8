"""The whole answer: in one sentence for who has ten seconds, and in one with all its counts."""

from __future__ import annotations

from towzone.model.result import FINDINGS, CheckResult, MoveOn, Outcome, Row, Status
from towzone.model.track import TrackKind
from towzone.record.catalogue import markup, markup_count, say, say_count
from towzone.record.sections.plan_words import counted_in
from towzone.record.sections.told import Teller
from towzone.record.text import SENTENCE, escape, shown
from towzone.record.words import STATUS, pairs_of

__all__ = ["headline", "look", "outcome_sentence", "worst_move", "worst_row"]


def look(result: CheckResult) -> str:
    """Return how the answer looks: the outcome, or ``unchecked`` where there was nothing to check."""
    return "unchecked" if _unchecked(result) else str(result.outcome)


def _unchecked(result: CheckResult) -> bool:
    return not sum(result.counts.values()) and not result.moves


def worst_move(result: CheckResult) -> MoveOn | None:
    """Return the worst shot by the move-on rule where it is worse than every row, and so stands first."""
    open_or_found = [m for m in result.moves if m.status in FINDINGS or m.status is Status.UNDETERMINED]
    if not open_or_found:
        return None
    order = list(Status)
    worst = min(open_or_found, key=lambda move: order.index(move.status))
    rows = [order.index(row.status) for row in result.rows]
    return worst if not rows or order.index(worst.status) < min(rows) else None


def headline(result: CheckResult, tell: Teller) -> str:
    """Return the answer in one plain sentence, as HTML."""
    if _unchecked(result):
        return markup("page.headline.nothing")
    if result.outcome is Outcome.CLEAR:
        return _clear(result)
    move = worst_move(result)
    worst = _shot(move) if move is not None else tell.did(worst_row(result)[1])
    if result.outcome is Outcome.FINDING:
        return _found(result, worst)
    seen = move is None and tell.seen(worst_row(result)[1])
    return markup_count(f"page.headline.{'seen' if seen else 'undetermined'}", _how_many(result), worst=worst)


def _shot(move: MoveOn) -> str:
    return shown(move.explain.removesuffix("."), SENTENCE)


def worst_row(result: CheckResult) -> tuple[int, Row]:
    """Return the number in the table of the worst of at least one row, and that row."""
    # Rows stand worst first, but a result put together by hand need not.
    order = list(Status)
    return min(enumerate(result.rows, start=1), key=lambda numbered: order.index(numbered[1].status))


def _how_many(result: CheckResult) -> int:
    wanted = FINDINGS if result.outcome is Outcome.FINDING else {Status.UNDETERMINED}
    counts = result.counts
    return sum(counts[status] for status in wanted) + sum(move.status in wanted for move in result.moves)


def _found(result: CheckResult, worst: str) -> str:
    count = _how_many(result)
    if count == 1:
        return markup("page.headline.finding", worst=worst)
    return markup("page.headline.findings", count=str(count), where=_where(result), worst=worst)


def _where(result: CheckResult) -> str:
    """Return in how many tows the problems are: vessel and gear of one tow are two problems in one place."""
    planned = {track.track_id for track in result.tracks if track.kind is TrackKind.PLANNED}
    found = [(row.track_id, row.tow) for row in result.rows if row.status in FINDINGS]
    found += [(move.track_id, move.tow) for move in result.moves if move.status in FINDINGS]
    places = set(found)
    routes = sum(track_id in planned for track_id, _ in places)
    tows = sum(track_id not in planned and tow is not None for track_id, tow in places)
    some = [say_count("page.where.tows", tows)] if tows else []
    some += [say_count("page.where.routes", routes)] if routes else []
    some += [say("page.where.outside")] if len(places) > tows + routes else []
    return escape(say("page.where.and").join(some))


def _clear(result: CheckResult) -> str:
    counts = result.counts
    recorded = [status for status in (Status.TRANSIT, Status.NOT_IN_FORCE) if counts[status]]
    how = _how_clear(result)
    if recorded:
        return markup(f"page.headline.recorded.{how}", rest=escape(_items(counts, recorded, ", ")))
    # Who stayed inside the only area allowed did not keep clear of it.
    turned = any(zone.rules.allowed_only_inside for zone in result.zones)
    only_planned = all(track.kind is TrackKind.PLANNED for track in result.tracks)
    tense = "_planned" if only_planned else ""
    return markup_count(f"page.headline.{'kept' if turned else 'clear'}{tense}.{how}", len(result.zones))


def _how_clear(result: CheckResult) -> str:
    """Return what was clear, for the headline: it must not speak of gear that was not checked."""
    if result.gear_unchecked:
        return "vessel_only"
    if result.clear_by_model:
        return "by_model"
    computed = result.gear is not None and any(not tow.why_not for tow in result.gear.tows)
    return "with_gear" if computed else "vessel"


def outcome_sentence(result: CheckResult) -> str:
    """Return the whole answer in one plain sentence, with counts; our own words only."""
    if _unchecked(result):
        return say("page.counts.nothing")
    pairs = f"{_pairs_sentence(result)} {counted_in(result)}".rstrip()
    if not result.moves:
        return pairs
    # Whatever the zones say, what is wrong with a shot stands first.
    counts = result.counts
    order = list(Status)
    worst = min((move.status for move in result.moves), key=order.index)
    if worst is Status.CLEAR or any(counts[s] for s in order[: order.index(worst) + 1]):
        return f"{pairs} {_moves_sentence(result)}"
    zones = say("page.counts.zones", sentence=pairs) if sum(counts.values()) else ""
    return f"{_moves_sentence(result)} {zones}".strip()


def _moves_sentence(result: CheckResult) -> str:
    statuses = [move.status for move in result.moves]
    counts = {status: statuses.count(status) for status in Status}
    said = _items(counts, [status for status in Status if counts[status]], ", ")
    return say("page.counts.moves", tow=result.moves[0].from_tow, counts=said)


def _items(counts: dict[Status, int], statuses: list[Status], between: str) -> str:
    return between.join(
        say("page.counts.item", count=counts[status], word=STATUS[status].lower()) for status in statuses
    )


def _pairs_sentence(result: CheckResult) -> str:
    counts = result.counts
    total = sum(counts.values())
    pairs = pairs_of(total, result.rows)
    others = (Status.UNDETERMINED, Status.TRANSIT, Status.NOT_IN_FORCE, Status.CLEAR)
    rest = _items(counts, [status for status in others if counts[status]], ", ")
    found = [status for status in (Status.INSIDE, Status.TOO_CLOSE) if counts[status]]
    if found:
        which = _items(counts, found, say("page.counts.and"))
        sentence = say_count("page.counts.found", sum(counts[s] for s in found), pairs=pairs, which=which)
        return sentence + (say("page.counts.others", rest=rest) if rest else "")
    if counts[Status.UNDETERMINED]:
        return say("page.counts.undecided", pairs=pairs, rest=rest)
    if counts[Status.CLEAR] < total:
        return say("page.counts.rest", pairs=pairs, rest=rest)
    if result.gear_unchecked:
        return say("page.counts.vessel_only")
    return say_count(
        f"page.counts.{'clear_by_model' if result.clear_by_model else 'clear'}", total, pairs=pairs
    )
