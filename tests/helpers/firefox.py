"""Firefox driven by its own remote protocol, Marionette, for what no other driver here can do.

A message is a list in JSON behind its length: [0, number, command, parameters], answered by
[1, number, error, result] (Mozilla's documentation of Marionette, protocol 3). No driver beside the
browser is needed.
"""

import json
import os
import shutil
import socket
import subprocess
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from waiting import LIMIT, wait_until

FIREFOX = shutil.which("firefox-esr") or shutil.which("firefox")
EVALUATE = (
    "const [done] = [...arguments].slice(-1); "
    "(async () => %s)().then(done, (error) => done(String(error)));"
)


class Firefox:
    """One window of a running Firefox."""

    def __init__(self, connection: socket.socket) -> None:
        self._connection = connection
        self._received = b""
        self._sent = 0
        self._message()  # a greeting
        timeouts = {"script": 1000 * LIMIT}
        self._ask("NewSession", capabilities={"alwaysMatch": {"timeouts": timeouts}})

    def goto(self, address: str) -> None:
        """Open a page and wait until it is there."""
        self._ask("Navigate", url=address)

    def evaluate(self, expression: str) -> Any:  # noqa: ANN401 - whatever it is
        """Return what an expression of the page is, or what the promise that it is brings."""
        script = EVALUATE % expression
        return self._ask("ExecuteAsyncScript", script=script, args=[], sandbox=None)["value"]

    def click(self, selector: str) -> None:
        """Click an element, as a person does."""
        found = self._ask("FindElement", using="css selector", value=selector)["value"]
        [element] = found.values()
        self._ask("ElementClick", id=element)

    def _ask(self, command: str, **parameters: object) -> Any:  # noqa: ANN401 - by command
        self._sent += 1
        message = json.dumps([0, self._sent, f"WebDriver:{command}", parameters]).encode()
        self._connection.sendall(b"%d:%b" % (len(message), message))
        _, number, error, result = self._message()
        assert number == self._sent
        assert error is None, error
        return result

    def _message(self) -> Any:  # noqa: ANN401 - a list, or the greeting
        while b":" not in self._received:
            self._receive()
        length, _, rest = self._received.partition(b":")
        self._received = rest
        while len(self._received) < int(length):
            self._receive()
        message = self._received[: int(length)]
        self._received = self._received[int(length) :]
        return json.loads(message)

    def _receive(self) -> None:
        received = self._connection.recv(2**20)
        assert received, "Firefox has ended"
        self._received += received


@contextmanager
def firefox(folder: Path, environment: Mapping[str, str] | None = None) -> Iterator[Firefox]:
    """Give a Firefox without a window, with a profile of its own in a folder.

    Its sound goes to the server that `environment` names.
    """
    assert FIREFOX is not None
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = found.getsockname()[1]
    (folder / "user.js").write_text(f'user_pref("marionette.port", {port});\n')
    process = subprocess.Popen(
        [FIREFOX, "--headless", "--marionette", "--no-remote", "--profile", str(folder)],
        env={**(environment or os.environ), "HOME": str(folder)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        connections: list[socket.socket] = []

        def connected() -> bool:
            assert process.poll() is None, "Firefox did not start"
            try:
                connections.append(socket.create_connection(("127.0.0.1", port), timeout=LIMIT))
            except OSError:
                return False
            return True

        wait_until(connected, lambda: "Firefox did not answer", every=0.1)
        with connections[0] as connection:
            yield Firefox(connection)
    finally:
        process.terminate()
        process.wait(LIMIT)
