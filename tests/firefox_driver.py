"""Firefox as Debian installs it, driven over WebDriver BiDi with no way to any network.

The protocol is a W3C standard (WebDriver BiDi); no driver program is needed, Firefox speaks it itself.
"""

from __future__ import annotations

import base64
import json
import os
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from websockets.sync.client import ClientConnection, connect

__all__ = ["FIREFOX", "Firefox", "Tab", "started_firefox"]

FIREFOX = Path("/usr/bin/firefox-esr")
PATIENCE_S = 60.0
"""For Firefox to start on a busy machine, and for any one answer. Own choice."""

PREFERENCES = {
    # No way out: a proxy that nobody runs, for every scheme, with no exception.
    "network.proxy.type": 1,
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,
    "network.proxy.ssl": "127.0.0.1",
    "network.proxy.ssl_port": 9,
    "network.proxy.no_proxies_on": "",
    "network.proxy.allow_hijacking_localhost": True,
    "network.dns.disabled": True,
    # What Firefox would do by itself at a first start.
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.homepage_override.mstone": "ignore",
    "browser.startup.page": 0,
    "datareporting.policy.dataSubmissionEnabled": False,
    "toolkit.telemetry.enabled": False,
    "extensions.update.enabled": False,
}
LISTEN = """() => {
  window.policyViolations = [];
  document.addEventListener("securitypolicyviolation", event => {
    window.policyViolations.push(event.effectiveDirective + " " + event.blockedURI);
  });
}"""


@dataclass
class Tab:
    """One page and all that it asked for and said."""

    firefox: Firefox
    context: str
    requests: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def go(self, url: str) -> None:
        """Open an address and wait until it is loaded."""
        self.firefox.call("browsingContext.navigate", context=self.context, url=url, wait="complete")

    def evaluate(self, expression: str) -> Any:
        """Return what an expression gives, by way of JSON."""
        answer = self.firefox.call(
            "script.evaluate",
            expression=f"JSON.stringify({expression})",
            target={"context": self.context},
            awaitPromise=True,
        )
        if answer["type"] != "success":
            pytest.fail(f"{expression}: {answer['exceptionDetails']['text']}", pytrace=False)
        value = answer["result"].get("value")
        return None if value is None else json.loads(value)

    def wait(self, seconds: float) -> None:
        """Let the page go on for a while, and hear what it says meanwhile."""
        self.firefox.call(
            "script.evaluate",
            expression=f"new Promise(done => setTimeout(done, {seconds * 1000.0}))",
            target={"context": self.context},
            awaitPromise=True,
        )

    def text(self, selector: str) -> str:
        """Return what a person reads in an element."""
        text: str = self.evaluate(f"document.querySelector({json.dumps(selector)}).innerText")
        return text

    def click(self, selector: str) -> None:
        """Press the mouse button in the middle of an element, as a person would."""
        quoted = json.dumps(selector)
        self.evaluate(f"document.querySelector({quoted}).scrollIntoView({{block: 'center'}})")
        x, y = self.evaluate(
            f"(r => [Math.round(r.left + r.width / 2), Math.round(r.top + r.height / 2)])"
            f"(document.querySelector({quoted}).getBoundingClientRect())"
        )
        mouse = {"type": "pointer", "id": "mouse", "parameters": {"pointerType": "mouse"}}
        press = [{"type": "pointerMove", "x": x, "y": y}]
        press += [{"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0}]
        self.firefox.call("input.performActions", context=self.context, actions=[{**mouse, "actions": press}])

    def keys(self, *keys: str) -> None:
        """Press and release keys one after the other; special ones as WebDriver's code points."""
        actions = [{"type": kind, "value": key} for key in keys for kind in ("keyDown", "keyUp")]
        self.firefox.call(
            "input.performActions",
            context=self.context,
            actions=[{"type": "key", "id": "keyboard", "actions": actions}],
        )

    def screenshot(self) -> bytes:
        """Return what the window shows as a PNG."""
        answer = self.firefox.call("browsingContext.captureScreenshot", context=self.context)
        return base64.b64decode(answer["data"])

    def printed(self) -> bytes:
        """Return the page on paper, A4, as a PDF."""
        # Centimetres, as the protocol has them; ISO 216.
        answer = self.firefox.call(
            "browsingContext.print", context=self.context, page={"width": 21.0, "height": 29.7}
        )
        return base64.b64decode(answer["data"])

    def violations(self) -> list[str]:
        """Breaches of the page's policy as Firefox reported them."""
        found: list[str] = self.evaluate("window.policyViolations")
        return found


class Firefox:
    """The conversation with a running Firefox."""

    def __init__(self, connection: ClientConnection) -> None:
        self.connection = connection
        self.number = 0
        self.tabs: dict[str, Tab] = {}
        self.call("session.new", capabilities={})
        self.call("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"])
        self.call("script.addPreloadScript", functionDeclaration=LISTEN)

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """Ask for one thing and return the answer; events that come meanwhile go to their tab."""
        self.number += 1
        self.connection.send(json.dumps({"id": self.number, "method": method, "params": params}))
        end = time.monotonic() + PATIENCE_S
        while True:
            message = json.loads(self.connection.recv(timeout=max(0.0, end - time.monotonic())))
            if message.get("type") == "event":
                self._hear(message["method"], message["params"])
            elif message.get("id") == self.number:
                if message["type"] == "error":
                    pytest.fail(f"{method}: {message['error']}: {message['message']}", pytrace=False)
                result: dict[str, Any] = message["result"]
                return result

    def _hear(self, method: str, params: dict[str, Any]) -> None:
        if method == "log.entryAdded":
            tab = self.tabs.get(params["source"].get("context", ""))
            if tab is not None:
                tab.said.append(f"{params['level']}: {params['text']}")
        else:
            tab = self.tabs.get(params["context"] or "")
            if tab is not None:
                tab.requests.append(params["request"]["url"])

    def tab(self, *, width: int = 1280, height: int = 900) -> Tab:
        """Return a new page in a window of that many pixels."""
        context = self.call("browsingContext.create", type="tab")["context"]
        size = {"width": width, "height": height}
        self.call("browsingContext.setViewport", context=context, viewport=size)
        self.tabs[context] = Tab(firefox=self, context=context)
        return self.tabs[context]


@contextmanager
def started_firefox(folder: Path) -> Iterator[Firefox]:
    """Firefox with a new profile in a folder; without it the tests fail, for nothing is to be skipped."""
    if not FIREFOX.exists():
        pytest.fail(f"{FIREFOX} is missing; install the package firefox-esr", pytrace=False)
    profile = folder / "profile"
    profile.mkdir()
    lines = (f"user_pref({json.dumps(name)}, {json.dumps(value)});\n" for name, value in PREFERENCES.items())
    (profile / "user.js").write_text("".join(lines), encoding="utf-8")
    log = folder / "firefox.log"
    with log.open("wb") as out:
        process = subprocess.Popen(
            [FIREFOX, "--headless", "--no-remote", "--remote-debugging-port", "0", "--profile", profile],
            env={**os.environ, "HOME": str(folder), "MOZ_HEADLESS": "1"},
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=subprocess.STDOUT,
        )
    try:
        with connect(_address(process, profile, log), proxy=None, max_size=None) as connection:
            yield Firefox(connection)
    finally:
        process.terminate()
        try:
            process.wait(timeout=20.0)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _address(process: subprocess.Popen[bytes], profile: Path, log: Path) -> str:
    """Return where Firefox listens: it writes that into its profile once it does."""
    said, end = profile / "WebDriverBiDiServer.json", time.monotonic() + PATIENCE_S
    while time.monotonic() < end and process.poll() is None:
        try:
            place = json.loads(said.read_text(encoding="utf-8"))
        except (FileNotFoundError, json.JSONDecodeError):  # not there yet, or half written
            time.sleep(0.1)
            continue
        return f"ws://{place['ws_host']}:{place['ws_port']}/session"
    pytest.fail(f"{FIREFOX} does not start: {log.read_text(errors='replace')[-2000:]}", pytrace=False)
