"""Drives a headless Chromium over its debugging pipe, with nothing but the standard library."""

from __future__ import annotations

import base64
import fcntl
import json
import os
import select
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)
BECOME = (
    "import os, sys; os.dup2(int(sys.argv[1]), 3); os.dup2(int(sys.argv[2]), 4);"
    "os.execv(sys.argv[3], sys.argv[3:])"
)
"""A process that lays its pipes where the browser looks for them and becomes the browser."""
PATIENCE = 60.0
"""Seconds an answer may take: the machine is shared."""


@dataclass(eq=False)
class Tab:
    """One tab; what it asked for and complained about is kept in order."""

    to_browser: int
    from_browser: int
    session: str = ""
    number: int = 0
    waiting: bytes = b""
    events: list[dict[str, Any]] = field(default_factory=list)

    def do(self, method: str, **params: Any) -> dict[str, Any]:
        """Call a method of the DevTools protocol and wait for its result."""
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.to_browser, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self.number:
                assert "error" not in answer, (method, answer["error"])
                result: dict[str, Any] = answer["result"]
                return result

    def _next(self) -> dict[str, Any]:
        end = time.monotonic() + PATIENCE
        while b"\0" not in self.waiting:
            ready, _, _ = select.select([self.from_browser], [], [], end - time.monotonic())
            assert ready, "the browser does not answer"
            more = os.read(self.from_browser, 1 << 20)
            assert more, "the browser went away"
            self.waiting += more
        one, self.waiting = self.waiting.split(b"\0", 1)
        message: dict[str, Any] = json.loads(one)
        if "method" in message:
            self.events.append(message)
        return message

    def told(self, method: str) -> list[dict[str, Any]]:
        """Give what was told under a name so far."""
        return [event["params"] for event in self.events if event["method"] == method]

    def show(self, page: Path, *, width: int, dark: bool = False, height: int = 900) -> None:
        """Open a page in a window of this size and wait until it is drawn."""
        self.do("Emulation.setDeviceMetricsOverride", width=width, height=height,
                deviceScaleFactor=1, mobile=False)  # fmt: skip
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.do("Emulation.setEmulatedMedia", features=[scheme])
        self.events.clear()
        self.do("Page.navigate", url=page.as_uri())
        while not self.told("Page.loadEventFired"):
            self._next()

    def value(self, script: str) -> Any:
        """Run a script of the test's own beside the page and give its value."""
        # In a world of its own: the page's policy, which forbids scripts, stays as it is.
        frame = self.do("Page.getFrameTree")["frameTree"]["frame"]["id"]
        world = self.do("Page.createIsolatedWorld", frameId=frame)["executionContextId"]
        result = self.do("Runtime.evaluate", expression=script, contextId=world,
                         returnByValue=True)  # fmt: skip
        assert "exceptionDetails" not in result, result["exceptionDetails"]
        return result["result"].get("value")

    def picture(self) -> bytes:
        """Give the whole page as a PNG."""
        return base64.b64decode(
            self.do("Page.captureScreenshot", captureBeyondViewport=True)["data"]
        )

    def pdf(self) -> bytes:
        """Give the page as it prints."""
        return base64.b64decode(
            self.do("Page.printToPDF", preferCSSPageSize=True, paperWidth=8.27, paperHeight=11.69)[
                "data"
            ]
        )


@contextmanager
def browser(profile: Path) -> Iterator[Tab]:
    """Start a browser with one tab and end it again."""
    assert BROWSER is not None
    inside = [os.pipe(), os.pipe()]
    # The browser reads from 3 and writes to 4: its ends must not lie there already.
    reads, writes = (fcntl.fcntl(end, fcntl.F_DUPFD, 10) for end in (inside[0][0], inside[1][1]))
    command = [BROWSER, *FLAGS, f"--user-data-dir={profile}", "about:blank"]
    process = subprocess.Popen(
        [sys.executable, "-c", BECOME, str(reads), str(writes), *command],
        pass_fds=(reads, writes), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    for end in (inside[0][0], inside[1][1], reads, writes):
        os.close(end)
    tab = Tab(to_browser=inside[0][1], from_browser=inside[1][0])
    try:
        yield opened(tab)
    finally:
        process.terminate()
        process.wait(timeout=PATIENCE)
        os.close(tab.to_browser)
        os.close(tab.from_browser)


def opened(tab: Tab) -> Tab:
    """Attach to the browser's first tab, all its channels open."""
    pages = [t for t in tab.do("Target.getTargets")["targetInfos"] if t["type"] == "page"]
    tab.session = tab.do("Target.attachToTarget", targetId=pages[0]["targetId"], flatten=True)[
        "sessionId"
    ]
    for room in ("Page", "Network", "Runtime", "Log"):
        tab.do(f"{room}.enable")
    return tab
