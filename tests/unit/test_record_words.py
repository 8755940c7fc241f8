"""The record's words live in its catalogue: none in the code, none unused, none missing."""

from __future__ import annotations

import ast
import re
import string
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

import towzone.record
from towzone.record import catalogue
from towzone.record.catalogue import language, markup, markup_count, said_by_script, say, say_count
from towzone.record.page import render_record  # noqa: F401  every module of the record can be imported
from towzone.record.sections.paper import paper_style

RECORD = Path(towzone.record.__file__).parent
MODULES = sorted(RECORD.rglob("*.py"))
SCRIPTS = sorted((RECORD / "assets" / "script").glob("*.js"))
STYLES = sorted((RECORD / "assets" / "style").glob("*.css"))
FILES = sorted((RECORD / "assets" / "english").glob("*.toml"))
SAYING = ("say", "say_count", "markup", "markup_count", "pattern")

PROSE = re.compile(r"[A-Za-z]{2,}[,;:]? +[A-Za-z]{2,}")
"""Two words with a blank between them."""

TAG = re.compile(r"<[^<>]*>")


def _words_of_style() -> frozenset[str]:
    text = "\n".join(path.read_text(encoding="utf-8") for path in STYLES)
    classes = re.findall(r"[.#]([A-Za-z_][\w-]*)", text)
    return frozenset(part for name in classes for part in re.split(r"[-_]", name))


CLASSES = _words_of_style()


def is_prose(text: str) -> bool:
    """Whether a text holds words for people: two in a row that are not tags, classes or attributes."""
    bare = TAG.sub("", re.sub(r"{%.*?%}|{{.*?}}", "", text))
    # A piece of an f-string may begin or end within a tag.
    bare = re.sub(r"^[^<>]*>", "", bare) if ">" in bare else bare
    bare = re.sub(r"<[^<>]*$", "", bare)
    found = PROSE.findall(bare)
    return any(not set(re.split(r"[ ,;:_-]+", pair)) <= CLASSES for pair in found)


def _is_message(node: ast.AST) -> bool:
    return isinstance(node, ast.Assign) and {"message"} == {getattr(t, "id", "") for t in node.targets}


def _strings(path: Path) -> Iterator[tuple[int, str]]:
    """Yield every string of a module but docstrings, and messages and texts for programmers."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            skipped.add(id(node.value))
        elif isinstance(node, ast.Raise) or _is_message(node):
            skipped.update(id(inner) for inner in ast.walk(node))
    joined = [node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) and id(node) not in skipped]
    for node in joined:
        skipped.update(id(piece) for piece in node.values)
        text = "".join(str(p.value) if isinstance(p, ast.Constant) else "\x00" for p in node.values)
        yield node.lineno, text
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped:
            yield node.lineno, node.value


COMMANDS = ("openssl ",)
"""What is typed as it stands is the same in every language."""


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.name)
def test_no_words_for_people_stand_in_the_code(path: Path) -> None:
    found = [(line, text) for line, text in _strings(path) if not text.startswith(COMMANDS)]
    assert [(line, text) for line, text in found if is_prose(text)] == []


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_no_words_for_people_stand_in_the_script(path: Path) -> None:
    code = re.sub(r"/\*.*?\*/|^\s*//.*$|\s//\s.*$", "", path.read_text(encoding="utf-8"), flags=re.S | re.M)
    literals = re.findall(r'"((?:[^"\\\n]|\\.)*)"', code) + re.findall(r"'((?:[^'\\\n]|\\.)*)'", code)

    literals = [text for text in literals if text != "use strict" and text[:1] not in (".", "#")]
    assert [text for text in literals if is_prose(text)] == []


def test_the_scan_finds_words_and_passes_tags_and_classes() -> None:
    assert is_prose("Nothing was found")
    assert is_prose("<p class='note'>Nothing found</p>")
    assert is_prose("{}: not known")
    assert not is_prose('<button type="button" class="show s-inside" data-row="1">')
    assert not is_prose("zone k-cable line")
    assert not is_prose("M-2 11L11 -2")


def _keys() -> dict[str, object]:
    keys: dict[str, object] = {}

    def gather(prefix: str, table: dict[str, object]) -> None:
        for name, value in table.items():
            if isinstance(value, dict):
                gather(f"{prefix}.{name}", value)
            else:
                keys[f"{prefix}.{name}"] = value

    for path in FILES:
        gather(path.stem, tomllib.loads(path.read_text(encoding="utf-8")))
    return keys


KEYS = _keys()


def _asked_for() -> Iterator[tuple[str, str, re.Pattern[str]]]:
    """Yield module, function and the pattern of each key that is asked for; a hole stands for any word."""
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args):
                continue
            if node.func.id in SAYING:
                for pattern in _patterns(node.args[0]):
                    yield path.name, node.func.id, re.compile(pattern)


def _patterns(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield re.escape(node.value)
    elif isinstance(node, ast.JoinedStr):
        pieces = (re.escape(str(p.value)) if isinstance(p, ast.Constant) else r"[\w.]+" for p in node.values)
        yield "".join(pieces)
    elif isinstance(node, ast.IfExp):
        yield from _patterns(node.body)
        yield from _patterns(node.orelse)


def test_every_key_that_the_code_asks_for_exists() -> None:
    asked = list(_asked_for())

    assert len(asked) > 200
    assert [a for a in asked if not any(a[2].fullmatch(key) for key in KEYS)] == []


def test_no_key_is_left_that_nobody_asks_for() -> None:
    patterns = [pattern for _, _, pattern in _asked_for()]
    literal = {
        node.value
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    script = "\n".join(path.read_text(encoding="utf-8") for path in SCRIPTS)

    def used(key: str) -> bool:
        if key in literal or any(pattern.fullmatch(key) for pattern in patterns):
            return True
        own = key.removeprefix("script.")
        # The script puts some keys together: "mode." + name.
        starts = [own[: i + 1] for i, c in enumerate(own) if c == "."]
        return f'"{own}"' in script or any(f'"{start}"' in script for start in starts)

    others = [key for key in KEYS if not key.startswith("verify.")]  # of the command line
    assert [key for key in others if not used(key)] == []


def test_counts_are_asked_for_where_there_are_two_texts_and_only_there() -> None:
    for name, function, pattern in _asked_for():
        for key, value in KEYS.items():
            if pattern.fullmatch(key) and "." not in pattern.pattern.replace(r"\.", ""):
                counted = function in ("say_count", "markup_count")
                assert counted == isinstance(value, list), (name, function, key)


def _names(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


@pytest.mark.parametrize("key", [key for key, value in KEYS.items() if isinstance(value, list)])
def test_both_texts_of_a_count_use_the_same_values(key: str) -> None:
    one, many = KEYS[key]

    assert _names(one) - {"count"} == _names(many) - {"count"}
    assert "count" in _names(many) or key.startswith("page.") or "count" not in _names(one)


def test_every_value_that_a_text_needs_is_given() -> None:
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args):
                continue
            first = node.args[0]
            literal = isinstance(first, ast.Constant) and first.value in KEYS
            if node.func.id not in SAYING[:4] or not literal or any(k.arg is None for k in node.keywords):
                continue
            value = KEYS[first.value]
            given = {keyword.arg for keyword in node.keywords} | {"count"}
            needed = _names(value) if isinstance(value, str) else _names(value[0]) | _names(value[1])
            assert needed - given == set(), (path.name, first.value)
            assert given - {"count"} <= needed, (path.name, first.value)


def test_words_become_html_escaped_and_values_stay_html(monkeypatch: pytest.MonkeyPatch) -> None:
    texts = {"a.one": "1 < {x}", "a.count": ("{count} < {x}", "{count} > {x}")}
    monkeypatch.setattr(catalogue, "_entries", lambda: texts)

    assert markup("a.one", x="<b>2</b>") == "1 &lt; <b>2</b>"
    assert markup_count("a.count", 1, x="<b>2</b>") == "1 &lt; <b>2</b>"
    assert markup_count("a.count", 5, x="<i>") == "5 &gt; <i>"
    assert say("a.one", x="<b>") == "1 < <b>"
    assert say_count("a.count", 0, x=3) == "0 > 3"


@pytest.mark.parametrize(("function", "key"), [(say, "a.count"), (say_count, "a.one"), (say, "a.none")])
def test_a_key_of_the_wrong_kind_is_a_fault_of_the_program(
    monkeypatch: pytest.MonkeyPatch, function: object, key: str
) -> None:
    monkeypatch.setattr(catalogue, "_entries", lambda: {"a.one": "one", "a.count": ("one", "many")})

    with pytest.raises(KeyError, match=key):
        function(key, 1) if function is say_count else function(key)


def test_the_page_says_in_which_language_it_is() -> None:
    assert re.fullmatch(r"[a-z]{2,3}(-[A-Za-z0-9]+)*", language())


def test_the_script_brings_its_own_and_the_shared_words_along() -> None:
    said = said_by_script()

    assert said["shared.status.inside"] == say("shared.status.inside")
    assert not [key for key in said if key.startswith(("page.", "evidence.", "script."))]


def test_page_margins_carry_their_words_and_counters() -> None:
    style = paper_style()

    assert '@bottom-left { content: "Not for navigation";' in style
    assert 'content: "page " counter(page) " of " counter(pages);' in style
    assert "size: A4" in style
