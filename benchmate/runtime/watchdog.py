"""The service manager's watchdog, fed for as long as the sampler reads.

One datagram a message to the socket that $NOTIFY_SOCKET names (sd_notify(3), "Standalone
Implementations"), at least every $WATCHDOG_USEC microseconds (sd_watchdog_enabled(3)). Where
nobody asks for it, nothing is sent.
"""

import logging
import os
import socket
import threading
from collections.abc import Callable, Mapping
from typing import Self

LOOK_S = 0.5
"""How often the pulse is felt."""
SHARE = 0.25
"""Of the time that the manager allows: after so long without a message one is due."""

_log = logging.getLogger(__name__)


class Watchdog:
    """Says that the bench is ready once the sampler reads, and then that it is still at it.

    ``pulse`` counts what the sampler has begun: a count that stands still for as long as the
    manager allows gets the bench ended and started again, whatever else still runs in it.
    """

    def __init__(self, pulse: Callable[[], int], environ: Mapping[str, str] = os.environ) -> None:
        self._pulse = pulse
        self._address = environ.get("NOTIFY_SOCKET", "")
        asked_of = environ.get("WATCHDOG_PID", str(os.getpid()))
        allowed = environ.get("WATCHDOG_USEC", "") if asked_of == str(os.getpid()) else ""
        self._due_s = SHARE * int(allowed) / 1e6 if allowed.isdecimal() else float("inf")
        self._count = pulse()
        self._ready = False
        self._waited_s = 0.0
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="watchdog", daemon=True)

    def __enter__(self) -> Self:
        if self._address:
            self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(1.0)
        self._send("STOPPING=1")

    def feel(self, passed_s: float) -> None:
        """Feel the pulse, ``passed_s`` after the last time, and say what is due."""
        self._waited_s += passed_s
        count = self._pulse()
        if count == self._count:
            return
        if not self._ready:
            self._ready = True
            self._count = count
            self._send("READY=1")
        if self._waited_s >= self._due_s:
            self._waited_s, self._count = 0.0, count
            self._send("WATCHDOG=1")

    def _run(self) -> None:
        look_s = min(LOOK_S, self._due_s)
        while not self._stopping.wait(look_s):
            self.feel(look_s)

    def _send(self, message: str) -> None:
        if not self._address:
            return
        # A name that begins with @ is in the abstract name space, which begins with a NUL.
        address = self._address.replace("@", "\0", 1) if self._address[0] == "@" else self._address
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as manager:
                manager.sendto(message.encode(), address)
        except OSError as error:
            _log.warning("the service manager doesn't hear %s: %s", message, error)
