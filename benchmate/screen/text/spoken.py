"""The bench in spoken sentences, for a screen reader or a speech program: no picture, no numbers
faster than they can be listened to.

A Speaker is told what happens and asked, as time goes on, what to say next. What asks for an act
this moment is said at once and takes the place of all that waits; everything else waits until the
sentence before it has been spoken.
"""

import math
import re

from benchmate.screen.client import Happening
from benchmate.screen.instrument.answers import JUDGED, situation
from benchmate.screen.state.bench_state import BenchState, after, asked_zero, leaving
from benchmate.screen.words.cues import WORDS, Situation
from benchmate.screen.words.sentences import due, onward_words, place_words, told, tube_words
from benchmate.stream import Logged, Reading, Target
from benchmate.units import LengthUnit

WORDS_A_SECOND = 2.5
"""As fast as speech programs speak at their usual rate (from memory)."""
CALLED_OUT_DEG = (30, 20, 10, 5, 3, 2, 1)
"""Degrees to go that are called out while the arm is pumped."""
_KEY = re.compile(r" \(\w\)")
"""The screen's key behind what it does."""
URGENT: tuple[Situation, ...] = ("stop", "past", "fault", "blind", "unzeroed")
_LONG = {"mm": "millimetres", "deg": "degrees", "\u00b0": " degrees", "\u00b1": "plus or minus "}


class Speaker:
    """Turns what happens at the bench into sentences, no more often than they can be spoken."""

    def __init__(self, job: str, unit: LengthUnit = "mm", *, following: bool = False) -> None:
        self.state = BenchState(job=job, unit=unit, following=following)
        """The bench as the stream has told it."""
        self._was: Situation = "starting"
        self._told = ""
        self._waiting: list[tuple[str, bool]] = []
        """What is to be said, and whether the next situation makes it old."""
        self._free_at = 0.0
        self._called: int | None = None

    def hear(self, happening: Happening, now: float) -> None:
        """Take what happened; ``now`` is this program's clock [s]."""
        self.state = after(self.state, happening, now)
        if isinstance(happening, Target):
            self._called = None
            self._say(_target_words(self.state, happening))
            self._was, self._told = "starting", ""
        elif isinstance(happening, Logged):
            self._say(f"Bend {happening.bend} is in the log.")
        self._situation(now)
        if isinstance(happening, Reading):
            self._call_out()

    def tick(self, now: float) -> None:
        """Notice what time alone changes: a reading that has become too old."""
        self._situation(now)

    def asked_zero(self, now: float) -> None:
        """Take that the person asked for zero."""
        self.state = asked_zero(self.state)
        self._situation(now)

    def leave(self) -> None:
        """Take that the bench was asked to end."""
        self.state = leaving(self.state)

    def command(self) -> str:
        """Give the command that Enter means now; "" for none."""
        return due(self.state).command

    def why_nothing(self) -> str:
        """Say why Enter does nothing now."""
        return due(self.state).words

    def tell(self, sentence: str) -> None:
        """Say a sentence in answer to a key."""
        self._say(sentence)

    def take(self, now: float) -> str | None:
        """Give the next sentence once the one before has been spoken; None: nothing, or not yet."""
        if not self._waiting or now < self._free_at:
            return None
        sentence, _ = self._waiting.pop(0)
        self._free_at = now + len(sentence.split()) / WORDS_A_SECOND
        return sentence

    def _situation(self, now: float) -> None:
        which = situation(self.state, now)
        said = told(self.state)
        new = which != self._was
        if not new and (said == self._told or which in {"pump", "slow", "starting"}):
            return
        self._was, self._told = which, said
        if which in {"starting", "releasing", "leaving"}:
            return
        word = WORDS[which].texts[0].capitalize()
        known = word.lower() in said.lower() and which not in URGENT
        opening = "" if known or not new else f"{word}. "
        sentence = f"{opening}{said} {_enter_words(self.state) if new else ''}".strip()
        if new:
            self._waiting = [each for each in self._waiting if not each[1]]
        if which in URGENT:
            # Whatever waits is no longer what matters.
            self._waiting.clear()
            self._free_at = 0.0
        self._say(sentence, passing=which not in JUDGED)

    def _call_out(self) -> None:
        reading = self.state.reading
        if reading is None or reading.to_go is None or not self.state.steering:
            return
        passed = [degrees for degrees in CALLED_OUT_DEG if reading.to_go <= degrees]
        nearest = min(passed, default=None)
        if nearest is None or nearest == self._called or reading.cue not in {"pump", "slow"}:
            return
        self._called = nearest
        strokes = reading.strokes
        left = "" if strokes is None or nearest > 10 else f", {math.ceil(strokes)} strokes"
        self._waiting = [each for each in self._waiting if not each[0].endswith(" to go.")]
        self._say(f"{nearest}{left} to go.", passing=True)

    def _say(self, sentence: str, *, passing: bool = False) -> None:
        sentence = _KEY.sub("", sentence)
        for short, long in _LONG.items():
            if short in {"mm", "deg"}:
                sentence = " ".join(
                    word.replace(short, long) if word.strip(".,") == short else word
                    for word in sentence.split()
                )
            else:
                sentence = sentence.replace(short, long)
        if sentence and (not self._waiting or self._waiting[-1][0] != sentence):
            self._waiting.append((sentence, passing))


def _target_words(state: BenchState, target: Target) -> str:
    if target.hit > 1:
        return f"Hit {target.hit}, to {target.stop_angle:.1f}."
    tube = tube_words(target) if target.bend == 1 else ""
    return (
        f"{tube} Bend {target.bend} of {target.bends}, {target.bend_angle:.1f} degrees."
        f" {place_words(state)}"
    ).strip()


def _enter_words(state: BenchState) -> str:
    what = due(state)
    if not what.command or state.target is None:
        return ""
    if what.command == "next" and state.verdict is not None and state.verdict.say == "accept":
        return f"Enter: {onward_words(state.target)}."
    return f"Enter: {what.words}."
