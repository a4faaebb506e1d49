"""A headless Chromium for tests, driven over its own debugging pipe: no driver, no package, no network port.

The protocol is Chromium's own (https://chromedevtools.github.io/devtools-protocol/): JSON messages, each ended by
a zero byte, over file descriptors 3 (to the browser) and 4 (from it).
"""

from __future__ import annotations

import base64
import contextlib
import fcntl
import json
import os
import select
import shutil
import signal
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome", "headless_shell")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-extensions",
    "--disable-background-networking",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)
PATIENCE_S = 60.0


def chromium() -> str | None:
    """The path of a Chromium on this machine, None when there is none."""
    return next((p for p in map(shutil.which, NAMES) if p), None)


@dataclass(slots=True)
class Opened:
    """What a page did while it was opened: errors told on its console, addresses asked for beside its own."""

    errors: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


class Browser:
    """One Chromium with one page, for a ``with`` block."""

    def __init__(self, path: str) -> None:
        self._path = path

    def __enter__(self) -> Browser:
        self._home = tempfile.mkdtemp(prefix="chromium-")
        down, self._to = os.pipe()
        self._from, up = os.pipe()
        # Numbers above 3 and 4, so that putting one end there can't hit the other.
        ends = [fcntl.fcntl(d, fcntl.F_DUPFD_CLOEXEC, 10) for d in (down, up)]
        null = os.open(os.devnull, os.O_RDWR)
        actions = [
            *((os.POSIX_SPAWN_DUP2, null, n) for n in (0, 1, 2)),
            *((os.POSIX_SPAWN_DUP2, end, n) for end, n in zip(ends, (3, 4), strict=True)),
        ]
        env = os.environ | {"HOME": self._home}
        argv = [self._path, *FLAGS, f"--user-data-dir={self._home}/profile", "about:blank"]
        self._pid = os.posix_spawn(self._path, argv, env, file_actions=actions, setsid=True)
        for d in (down, up, *ends, null):
            os.close(d)
        self._said = b""
        self._count = 0
        self._events: list[dict[str, Any]] = []
        self._session = ""
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.ask(f"{domain}.enable")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for d in (self._to, self._from):
            os.close(d)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self._pid, signal.SIGKILL)
        os.waitpid(self._pid, 0)
        shutil.rmtree(self._home, ignore_errors=True)

    # -- what a test asks for --------------------------------------------------------------------------
    def open(self, page: Path, width: int, height: int = 900, *, scripts: bool = True, media: str = "") -> Opened:
        """Open a file at so many pixels of width; what it told and asked for until it had loaded."""
        self.ask("Emulation.setScriptExecutionDisabled", value=not scripts)
        self.ask("Emulation.setEmulatedMedia", media=media)
        self.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=width < 600,
        )
        self._events.clear()
        address = page.resolve().as_uri()
        self.ask("Page.navigate", url=address)
        self._until("Page.loadEventFired")
        # Two pictures later everything that a page does on its own has been done and told.
        if scripts:
            self.value("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(() => r(1))))")
        opened = Opened()
        for event in self._events:
            name, what = event["method"], event["params"]
            if name == "Runtime.exceptionThrown":
                opened.errors.append(str(what["exceptionDetails"].get("exception", what["exceptionDetails"])))
            elif name == "Runtime.consoleAPICalled" and what["type"] in ("error", "warning", "assert"):
                opened.errors.append(str(what["args"]))
            elif name == "Log.entryAdded" and what["entry"]["level"] in ("error", "warning"):
                opened.errors.append(str(what["entry"]["text"]))
            elif name == "Network.requestWillBeSent" and what["request"]["url"] != address:
                opened.requests.append(what["request"]["url"])
        return opened

    def value(self, script: str) -> Any:
        """What an expression comes to in the page, promises waited for. Raises RuntimeError when it throws."""
        found = self.ask("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in found:
            raise RuntimeError(str(found["exceptionDetails"]))
        return found["result"].get("value")

    def press(self, key: str, code: str = "") -> None:
        """One key, down and up."""
        text = {"Enter": "\r", " ": " "}.get(key, "")
        for kind in ("keyDown", "keyUp"):
            number = {"Enter": 13, "Tab": 9, "Escape": 27, " ": 32}.get(key, 0)
            self.ask(
                "Input.dispatchKeyEvent",
                type=kind,
                key=key,
                code=code or key,
                text=text if kind == "keyDown" else "",
                windowsVirtualKeyCode=number,
            )

    def screenshot(self, path: Path, *, whole: bool = True) -> None:
        """A PNG of the page, all of its length."""
        size = self.ask("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        more: dict[str, Any] = {"captureBeyondViewport": True, "clip": clip} if whole else {}
        path.write_bytes(base64.b64decode(self.ask("Page.captureScreenshot", format="png", **more)["data"]))

    def pdf(self, path: Path, *, width_in: float, height_in: float) -> None:
        """The page as it is printed on paper of that size."""
        found = self.ask("Page.printToPDF", paperWidth=width_in, paperHeight=height_in, printBackground=True)
        path.write_bytes(base64.b64decode(found["data"]))

    # -- the pipe --------------------------------------------------------------------------------------
    def ask(self, method: str, **params: Any) -> dict[str, Any]:
        """One command and its answer. Raises RuntimeError when the browser refuses it."""
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self._to, data) :]
        for answer in self._messages():
            if answer.get("id") == self._count:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']['message']}")
                return dict(answer["result"])
        raise RuntimeError("Chromium went away")

    def _until(self, name: str) -> None:
        if not any(e["method"] == name for e in self._events):
            for _ in self._messages():
                if self._events and self._events[-1]["method"] == name:
                    return

    def _messages(self) -> Iterator[dict[str, Any]]:
        """Messages as they come in; events are kept. Raises TimeoutError."""
        end = time.monotonic() + PATIENCE_S
        while True:
            head, zero, rest = self._said.partition(b"\0")
            if zero:
                self._said = rest
                message = json.loads(head)
                if "method" in message:
                    self._events.append(message)
                yield message
                continue
            if not select.select([self._from], [], [], max(0.0, end - time.monotonic()))[0]:
                raise TimeoutError(f"Chromium said nothing for {PATIENCE_S:.0f} s")
            got = os.read(self._from, 1 << 20)
            if not got:
                return
            self._said += got
