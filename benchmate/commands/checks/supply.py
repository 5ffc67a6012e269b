"""The Pi's supply, where the firmware can be asked."""

import re
import shutil
import subprocess
from collections.abc import Callable, Iterator

from benchmate.commands.checks.finding import Finding

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
    match = re.fullmatch(r"throttled=0x([0-9a-fA-F]{1,8})", told.strip())
    if match is None:
        yield Finding("wrong", "supply", f"vcgencmd get_throttled says {told.strip()!r}")
        return
    bits = int(match[1], 16)
    if bits & LOW_NOW:
        yield Finding("wrong", "supply", f"the voltage is too low now; {_CURE}")
    elif bits & LOW_SINCE_START:
        yield Finding("wrong", "supply", f"the voltage was too low since the start; {_CURE}")
    elif bits & HOT_OR_SLOWED_NOW:
        yield Finding("wrong", "supply", "the processor is slowed down by heat; give the Pi air")
    else:
        yield Finding("works", "supply", "the voltage has held since the start")


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
