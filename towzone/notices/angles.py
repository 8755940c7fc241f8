"""The grammar of one angle: a latitude or longitude in any printed form, exact as a fraction of degrees.

Forms read: ``54°23′30″ N`` with any mark missing after the degrees, ``54 23.5 N``, ``54:23.5N``,
``54-23.5N``, packed ``5423.5N`` and ``542330N``, ``54.39N``, the letter before or after, words for marks
and letters. What could be read in two ways carries a doubt, and the readings a person may choose from.
"""

from __future__ import annotations

from towzone.notices.tokens import Kind, Token, glued
from towzone.notices.values import AXIS_OF, Angle, Axis, Gathered, evaluate, whole_part

__all__ = ["LABELS", "read_angle"]

_LETTERS = {"n": "N", "s": "S", "e": "E", "w": "W", "north": "N", "south": "S", "east": "E", "west": "W"}
LABELS = {
    "lat": Axis.LAT,
    "latitude": Axis.LAT,
    "lon": Axis.LON,
    "long": Axis.LON,
    "lng": Axis.LON,
    "longitude": Axis.LON,
}

_MOST_LOOKED_AT = 30
"""Own limit: so many angles are looked at to tell a point's letter from that of its latitude."""


def read_angle(tokens: list[Token], index: int) -> tuple[Angle, int] | None:
    """Return the angle that begins at a token and the index after it, or ``None``.

    Parameters
    ----------
    tokens : list of Token
        One line; a number that turns out to hold two (``00,15`` before a degree mark) is split in place.
    index : int
        Where to begin: at a label, letter, sign or number.

    Notes
    -----
    A bare number in decimal degrees is no angle here: only its row can tell whether it is a coordinate.
    """
    draft = Gathered(first=tokens[index].start)
    at = _label(tokens, index, draft)
    at = _leading_letter(tokens, at, draft)
    at = _sign(tokens, at, draft)
    if _kind(tokens, at) is not Kind.NUMBER:
        return None
    end = _numbers(tokens, at, draft)
    if end is None:
        return None
    end = _trailing_label(tokens, _letter(tokens, end, draft), draft)
    if not (draft.letter or draft.form == "marked" or (draft.label and draft.form == "decimal")):
        return None
    return evaluate(draft, tokens[end - 1].end), end


def _kind(tokens: list[Token], index: int) -> Kind | None:
    return tokens[index].kind if 0 <= index < len(tokens) else None


def _skip(tokens: list[Token], index: int, *kinds: Kind) -> int:
    return index + 1 if _kind(tokens, index) in kinds else index


def _label(tokens: list[Token], index: int, draft: Gathered) -> int:
    if _kind(tokens, index) is Kind.WORD and (axis := LABELS.get(tokens[index].text.lower())):
        draft.label = axis
        return _skip(tokens, _skip(tokens, index + 1, Kind.DOT), Kind.COLON, Kind.EQUALS)
    return index


def _leading_letter(tokens: list[Token], index: int, draft: Gathered) -> int:
    if _kind(tokens, index) is not Kind.WORD or tokens[index].text not in AXIS_OF:
        return index
    after = _skip(tokens, index + 1, Kind.DOT, Kind.COLON)
    signed = _kind(tokens, after) in (Kind.DASH, Kind.PLUS) and glued(tokens, after + 1)
    if _kind(tokens, after + signed) is not Kind.NUMBER:
        return index
    if _names_point(tokens, after + signed):
        return index
    draft.letter, draft.leading = tokens[index].text, True
    return after


def _names_point(tokens: list[Token], at: int) -> bool:
    """Return whether the letter before a number names a point, as E in ``E 54°30′N 8°10′W``.

    Where letters stand before their numbers there are as many of them as of numbers, and none at the end.
    """
    letters, groups = 1, 0
    while groups < _MOST_LOOKED_AT:
        at = _group_end(tokens, at)
        groups += 1
        while _kind(tokens, at) in (Kind.COMMA, Kind.SLASH, Kind.DASH, Kind.DOT, Kind.PLUS):
            at += 1
        if _kind(tokens, at) is Kind.NUMBER:
            return groups == 1
        if _kind(tokens, at) is not Kind.WORD or not _letter_at(tokens, at):
            return letters > groups
        letters += 1
        at += 1
        while _kind(tokens, at) in (Kind.COMMA, Kind.SLASH, Kind.DASH, Kind.DOT, Kind.PLUS, Kind.COLON):
            at += 1
        if _kind(tokens, at) is not Kind.NUMBER:
            return letters > groups
    return tokens[-1].text in AXIS_OF or (len(tokens) > 1 and tokens[-2].text in AXIS_OF)


def _group_end(tokens: list[Token], at: int) -> int:
    """Return the index after the numbers and marks of one angle."""
    marks = (Kind.DEGREE, Kind.MINUTE, Kind.SECOND)
    marked = _kind(tokens, at + 1) is Kind.DEGREE
    numbers = 0
    while _kind(tokens, at) is Kind.NUMBER and numbers < 3:
        if numbers and _kind(tokens, at + 1) is Kind.DEGREE:
            break
        numbers += 1
        whole = tokens[at].text.isdigit()
        at += 1
        while _kind(tokens, at) in marks or (
            _kind(tokens, at) in (Kind.COLON, Kind.DASH, Kind.DOT) and _inner(tokens, at)
        ):
            at += 1
        if not whole and not marked:
            break
    return at


def _inner(tokens: list[Token], at: int) -> bool:
    return glued(tokens, at) and glued(tokens, at + 1) and _kind(tokens, at + 1) is Kind.NUMBER


def _sign(tokens: list[Token], index: int, draft: Gathered) -> int:
    if _kind(tokens, index) not in (Kind.DASH, Kind.PLUS) or not glued(tokens, index + 1):
        return index
    draft.sign = 1 if tokens[index].kind is Kind.PLUS else -1
    # Without a space on either side the dash may just as well part two coordinates.
    touching = glued(tokens, index) and _kind(tokens, index - 1) not in (
        Kind.OPEN,
        Kind.COMMA,
        Kind.SEMICOLON,
    )
    draft.between = touching and not draft.leading
    return index + 1


def _numbers(tokens: list[Token], index: int, draft: Gathered) -> int | None:
    """Gather the numbers of an angle; return the index after its last mark."""
    after = _kind(tokens, index + 1)
    if after is Kind.DEGREE:
        return _marked(tokens, index, draft)
    if after is Kind.COLON and _joined(tokens, index):
        return _joined_numbers(tokens, index, draft, Kind.COLON)
    if after is Kind.DASH and _joined(tokens, index):
        end = _joined_numbers(tokens, index, draft, Kind.DASH)
        if end is not None:
            return end
    return _spaced(tokens, index, draft)


def _joined(tokens: list[Token], index: int) -> bool:
    """Return whether a number, a sign and a number follow each other without a space."""
    return (
        glued(tokens, index + 1)
        and glued(tokens, index + 2)
        and _kind(tokens, index + 2) is Kind.NUMBER
        and _kind(tokens, index + 3) is not Kind.DEGREE
    )


def _joined_numbers(tokens: list[Token], index: int, draft: Gathered, by: Kind) -> int | None:
    numbers = [tokens[index].text]
    at = index + 1
    while len(numbers) < 3 and _kind(tokens, at) is by and _joined(tokens, at - 1):
        numbers.append(tokens[at + 1].text)
        at += 2
    if any(not number.isdigit() for number in numbers[:-1]) or len(numbers[0]) > 3:
        return None
    at = _skip(tokens, at, Kind.MINUTE if len(numbers) == 2 else Kind.SECOND)
    if not (draft.leading or _letter_at(tokens, at)):
        return None
    draft.numbers, draft.form = numbers, "joined"
    return at


def _marked(tokens: list[Token], index: int, draft: Gathered) -> int:
    draft.form = "marked"
    if tokens[index + 1].text == "o":
        draft.remarks.append("the letter o was read as a degree mark")
    draft.numbers.append(tokens[index].text)
    at = _fraction_after_mark(tokens, index + 2, draft)
    for mark, name in ((Kind.MINUTE, "minute"), (Kind.SECOND, "second")):
        at_number = at
        if not draft.numbers[-1].isdigit() and not (mark is Kind.MINUTE and _looks_split(tokens, at)):
            break
        if not _belongs(tokens, at_number, mark, draft):
            break
        draft.numbers.append(tokens[at_number].text)
        at = at_number + 1
        if _kind(tokens, at) is mark:
            at = _fraction_after_mark(tokens, at + 1, draft)
        else:
            draft.remarks.append(f"the {name} mark is missing")
    return at


def _looks_split(tokens: list[Token], at: int) -> bool:
    """Return whether minutes follow degrees with decimals: a point number glued to the degrees."""
    return _kind(tokens, at) is Kind.NUMBER and _kind(tokens, at + 1) is Kind.MINUTE


def _fraction_after_mark(tokens: list[Token], at: int, draft: Gathered) -> int:
    """Read decimals printed behind their mark, as in ``30′.5``."""
    decimals = (
        _kind(tokens, at) is Kind.DOT
        and glued(tokens, at)
        and glued(tokens, at + 1)
        and _kind(tokens, at + 1) is Kind.NUMBER
        and tokens[at + 1].text.isdigit()
        and _kind(tokens, at + 2) not in (Kind.DEGREE, Kind.MINUTE, Kind.SECOND)
        and draft.numbers[-1].isdigit()
    )
    if not decimals:
        return at
    draft.numbers[-1] = f"{draft.numbers[-1]}.{tokens[at + 1].text}"
    return at + 2


def _belongs(tokens: list[Token], at: int, mark: Kind, draft: Gathered) -> bool:
    """Return whether the number at a token is the minutes (or seconds) of the angle being read."""
    if _kind(tokens, at) is not Kind.NUMBER:
        return False
    after = _kind(tokens, at + 1)
    number = tokens[at].text
    if after is Kind.DEGREE and "," in number and glued(tokens, at + 1):
        _split(tokens, at)
        return True
    if after in (Kind.DEGREE, Kind.DASH, Kind.COLON) and (after is Kind.DEGREE or _joined(tokens, at)):
        # The next coordinate begins here, unless a dash parts it from this one: 54°30-8°10.
        return after is Kind.DASH and _kind(tokens, at + 3) is Kind.DEGREE
    if mark is Kind.SECOND:
        letter = draft.leading or _letter_at(tokens, at + 1)
        return after is Kind.SECOND or (letter and after is not Kind.MINUTE)
    # A bare number far off, or one that begins the next row's count, is not the minutes.
    return after is not Kind.SECOND


def _split(tokens: list[Token], at: int) -> None:
    token = tokens[at]
    whole, _, rest = token.text.partition(",")
    cut = token.start + len(whole)
    tokens[at : at + 1] = [
        Token(Kind.NUMBER, whole, token.start, cut),
        Token(Kind.COMMA, ",", cut, cut + 1),
        Token(Kind.NUMBER, rest, cut + 1, token.end),
    ]


def _spaced(tokens: list[Token], index: int, draft: Gathered) -> int | None:
    """Read numbers parted by spaces that a letter ends (or begins): ``54 23.5 N``, ``136 E``."""
    numbers, at = _run(tokens, index, 3)
    if not (draft.leading or _letter_at(tokens, at) or len(numbers) == 1):
        return None
    partner = _partner(tokens, at) if len(numbers) > 1 and not draft.leading else []
    if partner and len(partner) == len(numbers) - 1:
        if not (numbers[-1].isdigit() or partner[-1].isdigit()):
            return None
        draft.counted = True
    draft.numbers = numbers
    packed = len(numbers) == 1 and len(whole_part(numbers[0])) > 3
    draft.form = "packed" if packed else "decimal" if len(numbers) == 1 else "spaced"
    return at


def _run(tokens: list[Token], index: int, most: int) -> tuple[list[str], int]:
    numbers = [tokens[index].text]
    at = index + 1
    while len(numbers) < most and numbers[-1].isdigit() and len(numbers[-1]) <= 3:
        if _kind(tokens, at) is not Kind.NUMBER or _kind(tokens, at + 1) in (Kind.DEGREE, Kind.COLON):
            break
        numbers.append(tokens[at].text)
        at = _skip(tokens, at + 1, Kind.MINUTE if len(numbers) == 2 else Kind.SECOND)
    return numbers, at


def _partner(tokens: list[Token], end: int) -> list[str]:
    """Return the numbers of the other coordinate of a point.

    One number less tells that a count stands before this one: surely where both end in decimals.
    """
    at = end + 1
    while _kind(tokens, at) in (Kind.COMMA, Kind.DASH, Kind.SLASH, Kind.DOT, Kind.SEMICOLON):
        at += 1
    if _kind(tokens, at) is not Kind.NUMBER:
        return []
    numbers, after = _run(tokens, at, 3)
    return numbers if _letter_at(tokens, after) else []


def _letter_at(tokens: list[Token], at: int) -> bool:
    """Return whether a letter, or the word for one, ends the numbers before this token."""
    if _kind(tokens, at) is not Kind.WORD:
        return False
    text = tokens[at].text
    if text in AXIS_OF or text == "O":
        return True
    return text.lower() in _LETTERS and (len(text) > 1 or glued(tokens, at) or text.isupper())


def _letter(tokens: list[Token], at: int, draft: Gathered) -> int:
    if draft.leading:
        return at
    if draft.form in ("packed", "decimal") and _kind(tokens, at) is Kind.COMMA and glued(tokens, at + 1):
        # A field of its own, as in the sentences of a receiver: 4723.00484,N,00045.88150,E.
        single = _kind(tokens, at + 1) is Kind.WORD and tokens[at + 1].text in AXIS_OF
        at += single
    if not _letter_at(tokens, at):
        return at
    text = tokens[at].text
    if text == "O":
        draft.letter = "E"
        draft.doubts.append("the letter O means east in one language and west in another")
    else:
        draft.letter = _LETTERS[text.lower()]
    return at + 1


def _trailing_label(tokens: list[Token], at: int, draft: Gathered) -> int:
    """Step over ``N. lat.`` and ``north latitude``; a label that begins the next angle stays."""
    dotted = _skip(tokens, at, Kind.DOT) if glued(tokens, at) else at
    if _kind(tokens, dotted) is not Kind.WORD or tokens[dotted].text.lower() not in LABELS:
        return at
    axis = LABELS[tokens[dotted].text.lower()]
    own = AXIS_OF[draft.letter] if draft.letter else draft.label
    end = _skip(tokens, dotted + 1, Kind.DOT)
    begins = _kind(tokens, end) in (Kind.NUMBER, Kind.COLON, Kind.EQUALS, Kind.DASH)
    if own is axis and not (draft.label and begins):
        return end
    # A count before a name, as in "2. Long Hole", is no longitude.
    sure = draft.form == "marked" or not draft.numbers[-1].isdigit()
    if own is None and sure and not begins:
        draft.label = axis
        return end
    return at
