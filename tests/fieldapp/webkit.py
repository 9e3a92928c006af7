"""WebKit by the WebDriver protocol (W3C), and a link to the site that can be cut."""

from __future__ import annotations

import json
import os
import selectors
import socket
import subprocess
import threading
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from tests import services

# The browser that comes with the driver has no sandbox as root, and no screen here but a drawn one.
QUIET = {"WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS": "1", "WEBKIT_DISABLE_COMPOSITING_MODE": "1"}
SCREEN = "600x1000x24"


class WebKit:
    def __init__(self, port: int) -> None:
        self.port = port
        binary = next(Path("/usr/lib").glob("*/webkit2gtk-*/MiniBrowser"))
        asked = {"webkitgtk:browserOptions": {"binary": str(binary), "args": ["--automation"]}}
        self.session = self._ask("POST", "/session", {"capabilities": {"alwaysMatch": asked}})["sessionId"]

    def _ask(self, method: str, path: str, body: Any = None) -> Any:
        told = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", told, method=method)
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.loads(answer.read())["value"]

    def ask(self, method: str, path: str, body: Any = None) -> Any:
        return self._ask(method, f"/session/{self.session}{path}", body)

    def goto(self, address: str) -> None:
        self.ask("POST", "/url", {"url": address})

    def run(self, script: str, *arguments: Any) -> Any:
        """What an async function body gives; a failure comes as its text."""
        wrapped = (
            "const args = [...arguments]; const done = args.pop();"
            f" (async () => {{ {script} }})().then(done, (error) => done('failed: ' + error));"
        )
        return self.ask("POST", "/execute/async", {"script": wrapped, "args": list(arguments)})

    def wait(self, script: str, *arguments: Any, patience: float = 20) -> Any:
        """Until the expression is true."""
        end = time.monotonic() + patience
        while not (found := self.run(f"return {script}", *arguments)) or str(found).startswith("failed"):
            assert time.monotonic() < end, f"{script}: {found}; {self.run('return document.body.innerText')}"
            time.sleep(0.2)
        return found


@contextmanager
def webkit() -> Iterator[WebKit]:
    screen, port = f":{os.getpid() % 50_000 + 100}", services.free_port()
    xvfb = subprocess.Popen([services.program("Xvfb"), screen, "-screen", "0", SCREEN], stderr=subprocess.DEVNULL)
    environment = {**os.environ, **QUIET, "DISPLAY": screen}
    driver = subprocess.Popen([services.program("WebKitWebDriver"), f"--port={port}"], env=environment)
    try:
        end = time.monotonic() + 15
        while not services.answers(port):
            assert time.monotonic() < end, "the driver does not answer"
            time.sleep(0.1)
        browser = WebKit(port)
        yield browser
        browser.ask("DELETE", "")
    finally:
        for process in (driver, xvfb):
            process.terminate()
            process.wait()


@contextmanager
def link(to: int) -> Iterator[Link]:
    """A way to a port of this machine that can be cut and mended."""
    made = Link(to)
    try:
        yield made
    finally:
        made.close()


class Link:
    def __init__(self, to: int) -> None:
        self.to, self.up, self.closed = to, True, False
        self.open: list[socket.socket] = []
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self.listener.getsockname()[1]}"
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self) -> None:
        self.up = False
        for one in self.open:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def mend(self) -> None:
        self.up = True

    def close(self) -> None:
        self.closed = True
        self.cut()
        self.listener.close()

    def _accept(self) -> None:
        with suppress(OSError):
            while not self.closed:
                near, _ = self.listener.accept()
                if self.up:
                    far = socket.create_connection(("127.0.0.1", self.to))
                    self.open += [near, far]
                    threading.Thread(target=self._carry, args=(near, far), daemon=True).start()
                else:
                    near.close()

    def _carry(self, near: socket.socket, far: socket.socket) -> None:
        with selectors.DefaultSelector() as ready, near, far, suppress(OSError):
            ready.register(near, selectors.EVENT_READ, far)
            ready.register(far, selectors.EVENT_READ, near)
            while True:
                for key, _ in ready.select():
                    read = key.fileobj.recv(65_536)  # type: ignore[union-attr]  # both are sockets
                    if not read:
                        return
                    key.data.sendall(read)
