"""When something happened, on a machine whose wall clock may be wrong."""

import ctypes
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from benchmate.clock import Clock

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
_TIMESYNC = Path("/run/systemd/timesync/synchronized")
_UNSYNCHRONISED = 5
"""TIME_ERROR of adjtimex(2): nothing disciplines the clock."""


def clock_synchronised() -> bool:
    """Say whether a time service keeps the wall clock right, as far as the system tells."""
    if _TIMESYNC.exists():
        return True
    ask = getattr(ctypes.CDLL(None), "adjtimex", None)
    if ask is None:
        return False
    # Larger than struct timex anywhere; all zero asks and sets nothing.
    return ask(ctypes.create_string_buffer(512)) not in (-1, _UNSYNCHRONISED)


def boot_id() -> str:
    """Give the kernel's id of this running of the machine, empty where there is none."""
    return _BOOT_ID.read_text().strip() if _BOOT_ID.exists() else ""


@dataclass(frozen=True, slots=True)
class StampClocks:
    """The clocks that stamp the rows."""

    clock: Clock
    wall: Callable[[], float] = time.time
    synchronised: Callable[[], bool] = clock_synchronised
    boot: Callable[[], str] = boot_id
