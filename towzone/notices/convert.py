"""The one entry: the text of a notice to zones in the making, with its echo, remarks and questions."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape
from towzone.geodesy.validity import shape_faults
from towzone.model.draft import Converted, Draft
from towzone.model.zone import ZoneKind
from towzone.notices.areas import Area, read_areas
from towzone.notices.corners import read_corners
from towzone.notices.doubts import (
    ask_crossings,
    ask_far_corners,
    compare_dimensions,
    corners_of,
    remark_on_closing,
)
from towzone.notices.drafts import FORMS, make_drafts
from towzone.notices.echo import echo_areas
from towzone.notices.markup import without_markup
from towzone.notices.pieces import Lone, Position
from towzone.notices.points import read_pieces
from towzone.notices.questions import Asker
from towzone.notices.remarks import Remarks
from towzone.notices.words import datums, line_words, seasons

__all__ = ["MOST_CHARACTERS", "convert_notice"]

MOST_CHARACTERS = 10_000_000
"""Own limit: the longest legal texts are a tenth of this."""

_INVISIBLE = dict.fromkeys(map(ord, "\u200b\u200c\u200d\u2060\ufeff\u00ad\u200e\u200f"))
_OTHER_DIGITS = re.compile(r"(?![0-9])\d")
_RECTANGLE = re.compile(r"(?<![\w.,])[0-9]{2}[A-HJ-M][0-9](?![\w°'′])")
_WITHIN = re.compile(
    r"within\s{1,3}[0-9.,]{1,6}\s{1,3}(?:nautical\s{1,3})?(?:miles?|nmi?|km|met(?:re|er)s?|m)\b[^.;\n]{0,60}",
    re.IGNORECASE,
)
_RADIUS = re.compile(
    r"\bradius\s{1,3}(?:of\s{1,3})?[0-9][0-9.,]{0,6}\s{0,3}(?:nautical\s{1,3})?(?:miles?|nmi?|km|met(?:re|er)s?|m)\b",
    re.IGNORECASE,
)
_WGS84 = re.compile(r"WGS\W?(?:19)?84", re.IGNORECASE)
_LINE_FORMS = (ZoneKind.CABLE, ZoneKind.PIPELINE)
_MOST_PARTS, _MOST_SEASONS = 60, 100


def convert_notice(
    text: str,
    properties: Mapping[str, object],
    *,
    order: str | None = None,
    form: str | None = None,
    answers: Mapping[int, str] | None = None,
    file: str = "notice",
    stem: str = "notice",
) -> Converted:
    """Return the zones a notice describes.

    Parameters
    ----------
    text : str
        Coordinates in prose or a table.
    properties : mapping
        Zone properties by their names in a zone file; ``kind`` and ``edges`` are asked for when missing.
    order : str or None
        ``lat-lon`` or ``lon-lat`` for coordinates without letters.
    form : str or None
        ``polygon``, ``line`` or ``points``; by default lines for cables and pipelines, else polygons.
    answers : mapping of int to str
        Answers to questions of an earlier run on the same text and options.
    file, stem : str
        Name of the text in messages, and the beginning of ids for areas without names.

    Returns
    -------
    Converted
        Without drafts as long as a question is open.

    Raises
    ------
    InputError
        No coordinates, too long a text, or a shape that cannot be judged.
    UsageError
        An answer or option that makes no sense.
    """
    if len(text) > MOST_CHARACTERS:
        raise InputError(
            file, [Problem("", f"longer than {MOST_CHARACTERS} characters; give the part with the list")]
        )
    text = text.replace("\r\n", "\n").replace("\r", "\n").translate(_INVISIBLE)
    text = without_markup(text)
    _check_digits(text, file)
    return _Notice(text, dict(properties), order, form, Asker(answers or {}), file, stem).converted()


def _check_digits(text: str, file: str) -> None:
    match = _OTHER_DIGITS.search(text)
    if match:
        message = f"{quoted(match.group())} is a digit of another script; write 0 to 9"
        raise InputError(file, [Problem(f"line {text.count(chr(10), 0, match.start()) + 1}", message)])


class _Notice:
    """One conversion on its way."""

    def __init__(
        self,
        text: str,
        properties: dict[str, object],
        order: str | None,
        form: str | None,
        asker: Asker,
        file: str,
        stem: str,
    ) -> None:
        self.text, self.properties = text, properties
        self.order, self.form = order, form
        self.asker, self.file, self.stem = asker, file, stem
        self.remarks = Remarks()

    def converted(self) -> Converted:
        """Read, ask round by round, and make drafts when nothing is open."""
        # Kind and line type come first, or the line type last: so no answer moves another's number.
        points_likely = self.form == "points" or "radius" in self.properties
        points_likely = points_likely or self.properties.get("kind") == ZoneKind.OBSTRUCTION
        kind = self.properties.get("kind") or self._ask_kind()
        edges, edges_text = self._edges()
        if "edges" not in self.properties and not points_likely:
            self._ask_edges(edges_text)
        edges = LineKind(str(self.properties.get("edges", edges)))
        areas = self._areas()
        self._geometry(areas, edges, str(kind) if kind else "")
        forms = self._forms(areas, str(kind) if kind else "")
        needs_edges = any(form != "points" for form in forms)
        edges_known = "edges" in self.properties or not needs_edges
        if not edges_known and points_likely and not self.asker.open:
            edges_known = self._ask_edges(edges_text)
            edges = LineKind(str(self.properties.get("edges", edges)))
        self._say_words()
        for area, form in zip(areas, forms, strict=True):
            compare_dimensions(area, edges, self.remarks)
            if form == "polygon":
                remark_on_closing(area, edges, self.remarks)
        echoes = []
        for number, (area, form) in enumerate(zip(areas, forms, strict=True), start=1):
            echoes += echo_areas([area], edges, form=form, edges_known=edges_known, first=number)
        self.asker.check_all_used()
        drafts: list[Draft] = []
        if not self.asker.open:
            drafts, problems = make_drafts(areas, forms, {**self.properties, "kind": str(kind)}, self.stem)
            if problems:
                raise InputError(self.file, problems)
        return Converted(
            drafts=tuple(drafts),
            echoes=tuple(echoes),
            questions=tuple(self.asker.open),
            remarks=(*self.remarks.told(), *self.asker.answered),
        )

    def _areas(self) -> list[Area]:
        pieces = read_pieces(self.text, self.file)
        if not any(isinstance(piece, (Position, Lone)) for piece in pieces):
            hint = ""
            if _RECTANGLE.search(self.text):
                hint = "; these look like codes of statistical rectangles, use --from rectangles"
            raise InputError(self.file, [Problem("", f"no coordinates were found in the text{hint}")])
        stream = read_corners(pieces, self.order, self.asker, self.remarks)
        self._ask_datum()
        # Which corners belong together is asked only when all of them are decided.
        asker = Asker({}) if self.asker.open else self.asker
        areas = read_areas(stream, asker, self.remarks)
        if not areas and not self.asker.open:
            raise InputError(self.file, [Problem("", "every position was skipped, so there is no zone")])
        return areas

    def _geometry(self, areas: Sequence[Area], edges: LineKind, kind: str) -> None:
        """Ask about corners far off, crossings, rings inside rings: each when the last is settled."""
        if not self.asker.open:
            ask_far_corners(areas, self.asker)
        if self._default_form(kind) != "polygon":
            return
        if not self.asker.open:
            ask_crossings([area for area in areas if len(area.corners) > 2], edges, self.asker)
        if not self.asker.open:
            for area in areas:
                self._ask_nested(area, edges)

    def _ask_nested(self, area: Area, edges: LineKind) -> None:
        """Ask whether a ring inside the first of its area is a hole, where no word says so."""
        if not 1 < len(area.rings) <= _MOST_PARTS:
            return
        outer = area.rings[0]
        for ring in area.rings[1:]:
            if ring.hole or shape_faults(Shape(polygons=((corners_of(outer), corners_of(ring)),)), edges):
                continue
            answer = self.asker.ask(
                f"line {ring.corners[0].line}",
                f"this ring lies inside the first ring of {quoted(area.name or 'its area')}: is it a hole,"
                " or part of the area",
                ("hole", "part"),
                {"hole": True, "part": False}.get,
            )
            ring.hole = bool(answer)

    def _default_form(self, kind: str) -> str:
        return self.form or ("line" if kind in _LINE_FORMS else "polygon")

    def _forms(self, areas: Sequence[Area], kind: str) -> list[str]:
        usual = self._default_form(kind)
        forms = []
        for area in areas:
            form = usual
            count = len(area.corners)
            counted = "1 corner" if count == 1 else f"{count} corners"
            if self.form is None and not self.asker.open:
                if count == 1 and (kind == ZoneKind.OBSTRUCTION or "radius" in self.properties):
                    form = "points"
                    self.remarks.add(area.line, "a single position, taken as a point")
                elif usual == "polygon" and count < 3:
                    form = self._ask_form(area, f"has {counted} only", FORMS[1:] if count == 2 else FORMS[2:])
                elif usual == "line" and any(ring.closed for ring in area.rings):
                    form = self._ask_form(area, f"is a {kind} but ends where it began", FORMS[:2])
                elif usual == "line" and count < 2:
                    form = self._ask_form(area, f"has {counted} only", FORMS[2:])
            forms.append(form)
        return forms

    def _ask_form(self, area: Area, what: str, answers: tuple[str, ...]) -> str:
        text = f"{quoted(area.name or 'this area')} {what}: what is it? (--shape says so for all)"
        allowed = {answer: answer for answer in answers}
        return self.asker.ask(f"line {area.line}", text, answers, allowed.get) or answers[0]

    def _ask_kind(self) -> str | None:
        text = "what lies there? The text is not guessed at; give --kind or answer"
        kinds = {kind.value: kind.value for kind in ZoneKind}
        kind = self.asker.ask("", text, tuple(kinds), kinds.get)
        if kind is not None:
            self.properties["kind"] = kind
        if kind == ZoneKind.OTHER and "prohibits" not in self.properties:
            message = "a zone of kind other needs --prohibits entry, fishing or bottom_contact"
            raise UsageError(message)
        return kind

    def _edges(self) -> tuple[LineKind, str]:
        """Return how sides are joined as far as option or text say, and what to ask if they do not."""
        said = line_words(self.text)
        words = " and ".join(quoted(word) for word in said.values())
        if "edges" in self.properties:
            edges = LineKind(str(self.properties["edges"]))
            if said and set(said) != {edges.value}:
                self.remarks.add(0, f"the text says {words}, the option --edges {edges} was followed")
            return edges, ""
        if len(said) == 1 and "straight" not in said:
            edges = LineKind(next(iter(said)))
            self.properties["edges"] = edges.value
            self.remarks.add(
                self._line_of(next(iter(said.values()))), f"the text says {words}: edges {edges}"
            )
            return edges, ""
        if not said:
            why = "the text does not say how the corners are joined, and laws differ"
        elif len(said) > 1:
            why = f"the text says {words}; areas joined in different ways must be converted one by one"
        else:
            why = f"the text says {words}, which may mean rhumb lines, geodesics or lines in a plain grid"
        return LineKind.RHUMB, f"{why}; give --edges or answer"

    def _ask_edges(self, text: str) -> bool:
        kinds = {kind.value: kind for kind in LineKind}
        kind = self.asker.ask("", text, tuple(kinds), kinds.get)
        if kind is not None:
            self.properties["edges"] = kind.value
        return kind is not None

    def _ask_datum(self) -> None:
        named = list(dict.fromkeys(" ".join(name.split()) for name in datums(self.text)))
        others = [name for name in named if not _WGS84.fullmatch(name)]
        if not named:
            self.remarks.add(0, "no datum is stated; positions are taken as WGS 84")
        elif not others:
            self.remarks.add(self._line_of(named[0]), f"the text states {quoted(named[0])}")
        else:
            self.asker.ask(
                f"line {self._line_of(others[0])}",
                f"the text names the datum {quoted(others[0])}; positions on it can be 100 m and more off."
                " Answer wgs84 if the list itself is on WGS 84; otherwise convert the positions first",
                ("wgs84",),
                lambda given: True if given.lower() == "wgs84" else None,
            )

    def _say_words(self) -> None:
        """Show what else the text says, so that a person gives it as options."""
        given = self.properties.get("season")
        for words, option in list(dict.fromkeys(seasons(self.text)))[:_MOST_SEASONS]:
            line = self._line_of(words)
            shown = quoted(" ".join(words.split()))
            if not given:
                self.remarks.add(line, f"season words found: {shown}; give --season {option}")
            if option.endswith("02-28"):
                self.remarks.add(line, f"{shown} does not cover 29 February as printed")
        for match in _WITHIN.finditer(self.text):
            line = self.text.count("\n", 0, match.start()) + 1
            self.remarks.add(
                line, f"not in the zone, because it is no list of corners: {quoted(match.group())}"
            )
            break
        radius = _RADIUS.search(self.text)
        if radius and "radius" not in self.properties:
            line = self.text.count("\n", 0, radius.start()) + 1
            self.remarks.add(
                line, f"radius found: {quoted(radius.group())}; give --radius if it is the zone's"
            )
        match_code = _RECTANGLE.search(self.text)
        if match_code:
            line = self.text.count("\n", 0, match_code.start()) + 1
            self.remarks.add(
                line, f"{quoted(match_code.group())} looks like a statistical rectangle; not read here"
            )

    def _line_of(self, words: str) -> int:
        at = self.text.find(words)
        return self.text.count("\n", 0, at) + 1 if at >= 0 else 0
