"""The large word of each situation with its sign, and the cautions: what is read from the pump."""

from typing import Literal, NamedTuple

from benchmate.screen.words.ink import Ink
from benchmate.stream import Cue, Phase

Situation = Literal[
    "starting",
    "unfinished",
    "placing",
    "still",
    "unzeroed",
    "ready",
    "pump",
    "slow",
    "stop",
    "release",
    "past",
    "latched",
    "releasing",
    "resting",
    "good",
    "again",
    "over",
    "measure",
    "fault",
    "blind",
    "leaving",
    "done",
]
"""What the person at the pump has before them: one question each, with one large answer."""


class LargeWord(NamedTuple):
    """A word to be drawn large: its ways of saying, longest first, its sign and how it is lit."""

    texts: tuple[str, ...]
    sign: str
    ink: Ink
    filled: bool = False
    """Whether solid blocks stand on both sides: for what is to be done this moment."""
    flashes: bool = False


WORDS: dict[Situation, LargeWord] = {
    "starting": LargeWord(("WAIT",), "", "dim"),
    "unfinished": LargeWord(("GO ON?",), "", "act"),
    "placing": LargeWord(("SET ZERO", "ZERO"), "", "act"),
    "still": LargeWord(("HOLD STILL", "STILL"), "", "act"),
    "unzeroed": LargeWord(("NO ZERO",), "\u2715", "attend", filled=True, flashes=True),
    "ready": LargeWord(("PUMP",), "\u25b6", "bold"),
    "pump": LargeWord(("PUMP",), "\u25b6", "bold"),
    "slow": LargeWord(("SLOW",), "\u2225", "attend"),
    "stop": LargeWord(("STOP",), "\u25a0", "bad", filled=True),
    "release": LargeWord(("RELEASE",), "\u25c0", "act", filled=True),
    "past": LargeWord(("TOO FAR",), "\u2715", "bad", filled=True, flashes=True),
    "latched": LargeWord(("MOVE PIN", "PIN"), "", "act"),
    "releasing": LargeWord(("RELEASE",), "\u25c0", "act"),
    "resting": LargeWord(("KEEP STILL", "STILL"), "", "bold"),
    "good": LargeWord(("GOOD",), "\u2713", "good", filled=True),
    "again": LargeWord(("PRESS AGAIN", "AGAIN"), "+", "act", filled=True),
    "over": LargeWord(("OVER-BENT", "OVER"), "\u2715", "bad", filled=True),
    "measure": LargeWord(("MEASURE IT", "MEASURE"), "?", "act", filled=True),
    "fault": LargeWord(("FAULT",), "\u2715", "bad", filled=True, flashes=True),
    "blind": LargeWord(("NO ANGLE",), "\u2715", "attend", filled=True),
    "leaving": LargeWord(("ENDING",), "", "dim"),
    "done": LargeWord(("DONE",), "\u2713", "good"),
}

CUE_WORDS: dict[Cue, str] = {
    "wait": "WAIT",
    "pump": "PUMP",
    "slow": "SLOW",
    "stop": "STOP",
    "release": "RELEASE",
    "over": "TOO FAR: STOP",
}
"""For lines of text."""

PHASE_WORDS: dict[Phase, str] = {
    "zeroing": "Clamp the tube snug, without load, and keep the arm still; then set zero.",
    "ready": "Zero is set. Pump.",
    "bending": "",
    "holding": "",
    "releasing": "Let the pressure off to the end.",
    "resting": "The pressure is off: keep the arm still while the angle is read.",
    "logged": "In the log.",
}

CAUTION = (
    "benchmate advises. It does not stop, hold or release the press, and a wrong or missing "
    "reading can look right. Keep hands clear of pinch points and of the tube's sweep while there "
    "is pressure; the person at the pump decides."
)
CAUTIONS = (
    CAUTION,
    "A loaded tube and a pressed ram store energy: stand clear, and release slowly.",
    "Wear eye protection. Check hoses and fittings before pumping; never feel for a leak by hand.",
    "Where the bent part protects people (roll-over structures, guards, lifting gear) the rule "
    "book, the drawing and licensed practice decide, not this screen.",
)
