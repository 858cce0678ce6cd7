"""A real Chromium, and fingers and scanners that type into it.

Keys are sent with the times that they claim to have been pressed at (`timestamp` of the
DevTools protocol's Input.dispatchKeyEvent), so that a busy machine changes nothing.
"""

from __future__ import annotations

import asyncio
import gc
import os
import shutil
import subprocess
import time
from collections.abc import Coroutine, Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import pytest

Value = TypeVar("Value")

SCANNER_S = 0.008
PERSON_S = 0.120
"""Key to key; handbook of standards, section 7: scanners 7 to 16 ms, people over 50."""

_NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
"""The first is the same engine without the browser's own windows, which cost about as much CPU as
the pages (tests/benchmarks/RESULTS.md)."""
_KEYS = {"Enter": 13, "Tab": 9, "F8": 119, "Alt": 18, "CapsLock": 20}
ALT, CTRL = 1, 2
"""Modifier bits of the protocol."""


def chromium() -> str:
    """The browser's program; skips where there is none."""
    pytest.importorskip("playwright", reason="needs playwright (pip install playwright)")
    found = next(filter(None, map(shutil.which, _NAMES)), None)
    if found is None:
        pytest.skip("needs Chromium (Debian: apt install chromium-headless-shell)")
    if trouble := _driver_trouble():
        pytest.skip(f"the browser's driver does not start ({trouble})")
    return found


@cache
def _driver_trouble() -> str:
    """Why Playwright's driver, a Node.js of its own, does not start; empty where it does."""
    from playwright._impl._driver import compute_driver_executable

    command = [*map(str, compute_driver_executable()), "--version"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode == 0:
        return ""
    said = done.stderr.strip() or f"exit status {done.returncode}"
    return f"Debian: apt install libatomic1; it says: {said}" if "libatomic" in said else said


class Browser:
    """Playwright's asynchronous API behind plain calls: `browser(coroutine)`."""

    def __init__(self, *arguments: str) -> None:
        program = chromium()
        from playwright.async_api import async_playwright

        self.loop = asyncio.new_event_loop()
        self._playwright = self(async_playwright().start())
        args = [*arguments, "--disable-dev-shm-usage"]
        if os.geteuid() == 0:
            args.append("--no-sandbox")
        self._browser = self(self._playwright.chromium.launch(executable_path=program, args=args))

    def __call__(self, work: Coroutine[Any, Any, Value]) -> Value:
        return self.loop.run_until_complete(work)

    def open(self, address: str, **context: Any) -> Tab:
        """A tab of a browser that knows nothing yet."""
        given = {"viewport": {"width": 1280, "height": 800}, "locale": "en-US", **context}
        owner = self(self._browser.new_context(**given))
        return self.tab(owner, address)

    async def _listened_to(self, context: Any) -> Tab:
        # Within the loop, which Playwright 1.50 needs here.
        page = await context.new_page()
        page.set_default_timeout(60_000)
        tab = Tab(self, page)
        page.on("pageerror", lambda error: tab.errors.append(str(error)))
        page.on("console", lambda line: tab.heard(line.type, line.text))
        return tab

    def tab(self, context: Any, address: str) -> Tab:
        """A further tab in one context."""
        tab = self(self._listened_to(context))
        self(tab.page.goto(address))
        self(tab.page.wait_for_selector("body[data-ready=yes]"))
        tab.protocol = self(tab.page.context.new_cdp_session(tab.page))
        return tab

    def close(self) -> None:
        """End the browser."""
        self(self._browser.close())
        self(self._playwright.stop())
        self.loop.close()


class Tab:
    """One page. errors: what it complained of."""

    def __init__(self, browser: Browser, page: Any) -> None:
        self.run = browser
        self.page = page
        self.protocol: Any = None
        self.errors: list[str] = []
        self.clock = time.time()

    def heard(self, kind: str, text: str) -> None:
        """Keep what the console says of the page itself, not of the network."""
        if kind == "error" and "Failed to load resource" not in text:
            self.errors.append(text)

    def keys(self, chars: Iterable[str], gap_s: float) -> list[dict[str, Any]]:
        """Key presses `gap_s` apart. A name such as "Enter" is one key."""
        events: list[dict[str, Any]] = []
        for char in chars:
            self.clock = max(self.clock + gap_s, self.clock)
            events += _press(char, self.clock)
        return events

    def send(self, events: Sequence[dict[str, Any]]) -> None:
        """Send key events in one go."""

        async def all_of_them() -> None:
            await asyncio.gather(
                *(self.protocol.send("Input.dispatchKeyEvent", event) for event in events)
            )

        # Collecting garbage here can take longer than the silence that ends a scan.
        gc.disable()
        try:
            self.run(all_of_them())
        finally:
            gc.enable()

    def scan(self, text: str, end: str = "Enter", *, gap_s: float = SCANNER_S) -> None:
        """A scanner types."""
        self.pause()
        before = self.entries()
        self.send(self.keys([*text, *([end] if end else [])], gap_s))
        self.settle(before)

    def type(self, text: str) -> None:
        """A person types."""
        self.pause()
        self.send(self.keys(text, PERSON_S))
        self.wait(0.1)

    def key_in(self, text: str, side: str = "box") -> None:
        """A person keys a number by way of the page's form."""
        if not self.run(self.page.is_visible("#keying")):
            self.click("#do-key")
        if self.run(self.page.is_visible("#keying fieldset")):
            self.run(self.page.check(f"#keying input[value={side}]"))
        self.run(self.page.focus("#number"))
        self.type(text)
        before = self.entries()
        self.run(self.page.keyboard.press("Enter"))
        self.settle(before)

    def entries(self) -> int:
        """How many entries the page has made so far."""
        return int(self.run(self.page.get_attribute("#main", "data-entries")) or 0)

    def pause(self) -> None:
        """Nobody types for a while, by the keys' clock."""
        self.clock = max(self.clock + 1.0, time.time())

    def click(self, selector: str) -> None:
        """Press a button; one that waits in the menu by way of the menu."""
        is_in_menu = self.run(self.page.locator(f"#menu .panel {selector}").count())
        if is_in_menu and not self.run(self.page.is_visible(selector)):
            self.run(self.page.click("#menu summary"))
        self.run(self.page.click(selector))

    def set_aside(self) -> None:
        """Leave the stopped piece on the screen, as its button says."""
        self.click("#do-aside")
        self.settle()

    def wait(self, seconds: float) -> None:
        """Let the page work."""
        self.run(self.page.wait_for_timeout(seconds * 1000))

    def settle(self, before: int | None = None) -> None:
        """Wait until what was entered is answered. before: how many entries there were."""
        if before is None:
            self.wait(0.45)
        else:
            more = f'#main[data-entries="{before + 1}"]'
            self.run(self.page.wait_for_selector(more))
        self.run(self.page.wait_for_selector("#main[aria-busy=false]"))
        self.wait(0.02)

    def shown(self) -> str:
        """Which answer is shown now: seal, stop, look, lost, none."""
        return str(self.run(self.page.get_attribute("#answer", "data-answer")))

    def answer(self) -> str:
        """Which answer is shown, once there is one."""
        try:
            self.until(":not([data-answer=none])", 45)
        except Exception as error:
            raise AssertionError(f"No answer: {self.text('#main')}") from error
        return self.shown()

    def until(self, answer: str, seconds: float = 60) -> None:
        """Wait for an answer."""
        which = answer if answer.startswith(":") else f"[data-answer={answer}]"
        self.run(
            self.page.wait_for_selector(f"#answer{which}", timeout=seconds * 1000, state="attached")
        )

    def text(self, selector: str = "body") -> str:
        """What can be read there."""
        return str(self.run(self.page.inner_text(selector)))

    def reads(self, selector: str, text: str) -> None:
        """Wait until exactly that can be read there; between two pictures it says other things."""
        try:
            self.run(self.page.wait_for_selector(f'{selector}:text-is("{text}")'))
        except Exception as error:
            raise AssertionError(f"{selector} says {self.text(selector)!r}") from error

    def state(self, side: str) -> str:
        """How far a side is: wanted, asked, read, keyed."""
        return str(self.run(self.page.get_attribute(f"#slot-{side}", "data-state")))

    def shot(self, path: Path) -> None:
        """A picture of what is on the screen."""
        self.run(self.page.screenshot(path=str(path)))

    def close(self) -> None:
        """Close the tab and what it remembers."""
        self.run(self.page.context.close())


def _press(char: str, at: float) -> list[dict[str, Any]]:
    if len(char) > 1:
        named = {"key": char, "code": char, "windowsVirtualKeyCode": _KEYS[char]}
        return [
            {"type": "rawKeyDown", "timestamp": at, **named},
            {"type": "keyUp", "timestamp": at, **named},
        ]
    common = {"key": char, "timestamp": at}
    return [{"type": "keyDown", "text": char, **common}, {"type": "keyUp", **common}]


def key(kind: str, name: str, at: float, **more: Any) -> dict[str, Any]:
    """One event, for chords."""
    return {"type": kind, "key": name, "timestamp": at, **more}
