"""What a probe found, as one line for a person."""

from dataclasses import dataclass
from typing import Literal

Mark = Literal["works", "note", "missing", "wrong"]
"""note: works, and there is something to know about it."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at: how it stands, what it is, and what to do about it."""

    mark: Mark
    what: str
    says: str = ""
    """May hold what a file or the system said: show it through ``wording.printable`` only."""
