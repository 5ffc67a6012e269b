"""The Pi's supply, where the firmware can be asked."""

import re
import shutil
import subprocess
from collections.abc import Callable, Iterator

from benchmate.checks.finding import Finding

# Bits of get_throttled: Raspberry Pi documentation, "vcgencmd", get_throttled.
LOW_NOW = 1 << 0
HOT_OR_SLOWED_NOW = 1 << 1 | 1 << 2 | 1 << 3
LOW_SINCE_START = 1 << 16

_CURE = "use the Pi's own supply with a short thick cable"


def look_at_supply(ask: Callable[[], str | None] | None = None) -> Iterator[Finding]:
    """Say what the firmware says of the supply; nothing where there is no such firmware."""
    told = (ask or _vcgencmd)()
    if told is None:
        return
    bits = _bits(told)
    if bits is None:
        yield Finding("wrong", "supply", f"vcgencmd get_throttled says {told.strip()!r}")
        return
    if bits & LOW_NOW:
        yield Finding("wrong", "supply", f"the voltage is too low now; {_CURE}")
    elif bits & LOW_SINCE_START:
        yield Finding("wrong", "supply", f"the voltage was too low since the start; {_CURE}")
    elif bits & HOT_OR_SLOWED_NOW:
        yield Finding("wrong", "supply", "the processor is slowed down by heat; give the Pi air")
    else:
        yield Finding("works", "supply", "the voltage has held since the start")


class Voltage:
    """Tells in a sentence while the Pi's voltage is too low, or was since the last time asked.

    Nothing while it holds; None where the firmware can't be asked.
    """

    def __init__(self, ask: Callable[[], str | None] | None = None) -> None:
        self._ask = ask or _vcgencmd
        self._dipped: bool | None = None
        """Whether it had dipped since the Pi's start when last asked."""

    def __call__(self) -> str | None:
        """Ask once."""
        bits = _bits(self._ask())
        if bits is None:
            return None
        before, self._dipped = self._dipped, bool(bits & LOW_SINCE_START)
        if not bits & LOW_NOW and not (self._dipped and before is False):
            return ""
        return (
            f"The Pi's supply voltage is too low, which upsets sensors and cards: {_CURE}. Bends "
            "until then are logged with a note of it."
        )


def _bits(told: str | None) -> int | None:
    match = re.fullmatch(r"throttled=0x([0-9a-fA-F]{1,8})", (told or "").strip())
    return None if match is None else int(match[1], 16)


def _vcgencmd() -> str | None:
    program = shutil.which("vcgencmd")
    if program is None:
        return None
    try:
        asked = subprocess.run(
            [program, "get_throttled"], capture_output=True, timeout=2, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"no answer ({type(error).__name__})"
    return (asked.stdout or asked.stderr).decode("utf-8", "replace")
