"""What a signal that asks for the end does: the bench process ends as when its input ends."""

import signal
from types import FrameType
from typing import Protocol

from benchmate.bench.inputs import Closed
from benchmate.clock import Clock


class Inbox(Protocol):
    """Takes notices, also in a signal handler; ``benchmate.bench.event_loop.EventLoop`` is one."""

    def put(self, given: Closed) -> None:
        """Hand it in."""
        ...


def end_on_signals(inbox: Inbox, clock: Clock) -> None:
    """Let SIGINT, SIGTERM and SIGHUP say that nobody asks any more."""

    def end(_number: int, _frame: FrameType | None) -> None:
        inbox.put(Closed(clock.now()))

    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, end)
