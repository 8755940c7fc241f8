"""What the page's own policy stops, should markup ever get into it; the page itself never breaks it."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from browser_page import Opened, Opener
from browser_use import use_everything
from gear_results import build_gear_result
from playwright.sync_api import Browser

TAKEN = "window.taken = true"
OUTSIDE = "https://example.invalid/x"
INJECTED = {
    "script": (f"<script>{TAKEN}</script>", "script-src-elem"),
    "script-outside": (f"<script src='{OUTSIDE}'></script>", "script-src-elem"),
    "handler": (f"<button id=inner onclick='{TAKEN}'>x</button>", "script-src-attr"),
    "image-error": (f"<img src='data:image/png,x' onerror='{TAKEN}'>", "script-src-attr"),
    "svg-load": (f"<svg onload='{TAKEN}'></svg>", "script-src-attr"),
    "script-link": (f"<a id=inner href='javascript:{TAKEN}'>x</a>", "script-src-elem"),
    "style": ("<style>body { display: none }</style>", "style-src-elem"),
    "style-attribute": ("<p style='position: fixed'>x</p>", "style-src-attr"),
    "style-outside": (f"<link rel=stylesheet href='{OUTSIDE}'>", "style-src-elem"),
    "image": (f"<img src='{OUTSIDE}'>", "img-src"),
    "frame": (f"<iframe src='{OUTSIDE}'></iframe>", "frame-src"),
    "frame-script": (f"<iframe srcdoc='<script>parent.{TAKEN}</script>'></iframe>", "script-src-elem"),
    "object": (f"<object data='{OUTSIDE}'></object>", "object-src"),
    "media": (f"<video src='{OUTSIDE}'></video>", "media-src"),
    "form": (f"<form action='{OUTSIDE}'><button id=inner>x</button></form>", "form-action"),
    "base": ("<base href='https://example.invalid/'>", "base-uri"),
}
"""Markup written into the file, and the part of the policy that stops it."""

FROM_SCRIPT = {
    "fetch": (f"fetch('{OUTSIDE}')", "connect-src"),
    "beacon": (f"navigator.sendBeacon('{OUTSIDE}', 'x')", "connect-src"),
    "socket": ("new WebSocket('wss://example.invalid/')", "connect-src"),
    "worker": ("new Worker('data:text/javascript,1')", "worker-src"),
    "text-as-script": (f"setTimeout('{TAKEN}')", "script-src"),
    "image": (f"(new Image()).src = '{OUTSIDE}'", "img-src"),
}
"""What a script would do to reach out of the page, once it ran in it."""


@pytest.fixture(scope="module")
def record(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Opener, str]]:
    opener = Opener(browser, tmp_path_factory.mktemp("policy"))
    opener(build_gear_result())
    yield opener, (opener.folder / "record.html").read_text(encoding="utf-8")
    opener.close()


def quiet(opened: Opened) -> bool:
    """Whether the page asked for no file but itself; a data address or a stopped one is no request."""
    asked = [
        url for url in opened.requests if not url.startswith("data:") and opened.failed.get(url) != "csp"
    ]
    return asked == [opened.url]


def reports(opened: Opened) -> list[str]:
    """The breaches of the policy, in the page itself and in frames that inherit it."""
    found = []
    for frame in opened.page.frames:
        found += frame.evaluate("window.policyViolations || []")
    return found


@pytest.mark.parametrize("name", INJECTED)
def test_markup_written_into_the_file_is_stopped_and_reported(record: tuple[Opener, str], name: str) -> None:
    opener, text = record
    markup, directive = INJECTED[name]
    assert text.count("<main>") == 1
    opened = opener.text(text.replace("<main>", f"<main>{markup}"))
    page = opened.page
    if page.locator("#inner").count():
        page.evaluate("document.getElementById('inner').click()")
    page.wait_for_timeout(100)

    assert any(breach.startswith(directive + " ") for breach in reports(opened)), reports(opened)
    assert page.evaluate("window.taken") is None
    assert page.locator("#chart").is_visible()
    assert page.url == opened.url
    assert page.evaluate("document.baseURI") == opened.url
    assert quiet(opened), opened.requests
    page.context.close()


@pytest.mark.parametrize("name", FROM_SCRIPT)
def test_script_cannot_reach_out_of_the_page(record: tuple[Opener, str], name: str) -> None:
    opener, text = record
    action, directive = FROM_SCRIPT[name]
    opened = opener.text(text)
    opened.page.evaluate(f"async () => {{ try {{ await ({action}); }} catch (error) {{ return; }} }}")
    opened.page.wait_for_timeout(100)

    assert any(breach.startswith(directive + " ") for breach in reports(opened)), reports(opened)
    assert opened.page.evaluate("window.taken") is None
    assert quiet(opened), opened.requests
    opened.close()


def test_page_itself_breaks_no_part_of_its_policy(record: tuple[Opener, str]) -> None:
    opened = record[0].text(record[1])
    use_everything(opened.page)

    assert opened.undisturbed(), opened.disturbances()


def test_policy_begins_with_nothing_and_allows_nothing_by_address_or_wholesale(
    record: tuple[Opener, str],
) -> None:
    opened = record[0].text(record[1])
    policy = opened.page.locator("meta[http-equiv='Content-Security-Policy']")
    parts = dict(
        part.strip().partition(" ")[::2] for part in (policy.get_attribute("content") or "").split(";")
    )

    assert policy.count() == 1
    assert parts["default-src"] == "'none'"
    assert parts["base-uri"] == parts["form-action"] == "'none'"
    for name in ("script-src", "style-src"):
        assert all(re.fullmatch(r"'sha256-[A-Za-z0-9+/]{43}='", source) for source in parts[name].split())
    # Pictures of its own may be carried inside; nothing else may come from anywhere.
    assert {n: s for n, s in parts.items() if n not in ("script-src", "style-src")}.keys() <= {
        "default-src",
        "base-uri",
        "form-action",
        "img-src",
    }
    assert parts.get("img-src", "data:") == "data:"


def test_nothing_comes_before_the_policy_that_it_would_have_to_stop(record: tuple[Opener, str]) -> None:
    before = record[1][: record[1].index("Content-Security-Policy")]

    without_comments = re.sub(r"<!--.*?-->", "", before, flags=re.DOTALL)
    assert set(re.findall(r"<(\w+)", without_comments)) == {"html", "head", "meta"}


def test_same_record_without_its_policy_would_not_stop_a_handler(record: tuple[Opener, str]) -> None:
    # The other tests could pass for another reason than the policy; this one shows that it is the policy.
    opener, text = record
    bare = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    assert bare != text
    page = opener.text(bare.replace("<main>", f"<main><button id=inner onclick='{TAKEN}'>x</button>")).page
    page.evaluate("document.getElementById('inner').click()")

    assert page.evaluate("window.taken") is True
