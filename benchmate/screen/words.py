"""The screen's words: cues, phases, faults, cautions, and what Enter does now."""

from typing import NamedTuple

from benchmate.screen.snapshot import BenchState
from benchmate.stream import Cue, FaultWhat, Phase, Target, Verdict
from benchmate.wording import printable

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

CUES: tuple[Cue, ...] = ("wait", "pump", "slow", "stop", "release", "over")
"""In the order of their places on the screen, which never changes."""
CUE_WORDS: dict[Cue, str] = {
    "wait": "WAIT",
    "pump": "PUMP",
    "slow": "SLOW",
    "stop": "STOP",
    "release": "RELEASE",
    "over": "OVER",
}
CUE_SHAPES: dict[Cue, str] = {
    "wait": "--",
    "pump": "\u2192",
    "slow": "\u2192|",
    "stop": "\u25a0",
    "release": "\u2190",
    "over": "!!",
}

PHASE_WORDS: dict[Phase, str] = {
    "zeroing": "Clamp the tube snug, no load, arm still; then take zero.",
    "ready": "Zero taken. Pump.",
    "bending": "The tube is under load.",
    "holding": "The tube is under load.",
    "releasing": "Releasing.",
    "resting": "Released: keep the arm still while the rest is read.",
    "logged": "Logged.",
}

_TO_DO: dict[FaultWhat, str] = {
    "sensor": "Angle lost. Stop pumping.",
    "bus": "Angle lost. Stop pumping. Check the cable.",
    "alignment": "The sensor does not sit as aligned. Stop pumping; clamp it, then run align.",
    "store": "This bend is not in the log yet. Write it down by hand.",
    "command": "Not understood.",
}


DETAIL = 300
"""Characters of a sentence from the bench that are shown, as far as they fit."""


_WORST_FIRST: tuple[FaultWhat, ...] = ("sensor", "bus", "alignment", "store", "command")
"""One fault is told at a time: what hides the angle before what hides the log."""


class Due(NamedTuple):
    """What Enter does now: a command for the bench or "" for none, and the words that say so."""

    command: str
    words: str


RESTART = "start again"
"""In place of a command for the bench: start its process anew."""


_NOTHING_DUE: dict[Phase, str] = {
    "ready": "Pump to the stop angle",
    "resting": "Reading the rest",
}


def due(state: BenchState) -> Due:
    """Say what Enter does now."""
    if state.link == "lost":
        return Due(RESTART, "Enter: start the bench again")
    if state.link == "leaving":
        return Due("", "Ending")
    if state.done or state.link != "up" or state.target is None:
        return Due("", "All bends done" if state.done else "Waiting for the bench")
    return _due_at_bend(state, state.target)


def _due_at_bend(state: BenchState, target: Target) -> Due:
    if state.verdict is not None:
        return Due("next", f"Enter: {_next_words(state.verdict, target)}")
    if state.phase == "zeroing":
        return Due("zero", "Enter: take zero")
    if state.phase == "holding" and state.reading and state.reading.cue in {"stop", "over"}:
        return Due("next", "Enter: pressure is off")
    return Due("", _NOTHING_DUE.get(state.phase, "Bend under way"))


def _next_words(verdict: Verdict, target: Target) -> str:
    if verdict.say == "again":
        return "press again"
    onward = "finish the job" if target.bend >= target.bends else "next bend"
    if verdict.say == "over":
        return f"keep as over-bent, {onward}"
    if verdict.say == "measure":
        return f"{onward} unmeasured"
    return onward


def shown_deg(angle: float) -> str:
    """Write an angle to a tenth of a degree, without a minus before nought."""
    return f"{round(angle, 1) + 0.0:.1f}"


def told(state: BenchState) -> str:
    """Give the one line that matters most: a lost bench, a fault, a verdict, advice, the phase."""
    if state.link != "up":
        return _link_words(state)
    if state.faults:
        worst = min(state.faults, key=lambda fault: _WORST_FIRST.index(fault.what))
        return f"{_TO_DO[worst.what]} {printable(worst.detail, DETAIL)}"
    if state.notice:
        return printable(state.notice, DETAIL)
    if state.verdict is not None:
        seen = state.seen(state.verdict.bend)
        return _verdict_words(state.verdict, good=seen is not None and seen.in_tolerance)
    return _phase_words(state.phase, state.target)


def _phase_words(phase: Phase, target: Target | None) -> str:
    said = PHASE_WORDS[phase]
    if target is None or phase not in {"zeroing", "ready"}:
        return said
    if target.hit > 1 and phase == "ready":
        said = "Pump again."
    elif target.changed and phase == "zeroing":
        said = f"Planned anew from what is bent: marks or angles changed (c). {said}"
    return f"{said} {printable(target.advice, DETAIL)}".rstrip()


def _link_words(state: BenchState) -> str:
    if state.link == "starting":
        return "Starting the bench."
    return _leaving_words(state) if state.link == "leaving" else _gone_words(state)


def _leaving_words(state: BenchState) -> str:
    if state.mid_hit and state.by_hand:
        return "The valve is opened: the hit is logged, then this ends. q: leave at once."
    if state.mid_hit:
        return "Finish the hit and release: it is logged, then this ends. q: leave at once."
    return "Ending: the bench logs what it has. q: leave at once."


def _gone_words(state: BenchState) -> str:
    ended = state.ended
    why = f" (exit {ended.status})" if ended else ""
    said = f" It said: {printable(ended.complaint)}" if ended and ended.complaint else ""
    now = "Starting it again." if state.link == "again" else "Stop pumping."
    return f"The bench program ended{why}. {now}{said}"


def _verdict_words(verdict: Verdict, *, good: bool) -> str:
    angle = f"{verdict.bend_angle:.1f}\u00b0 \u00b1{verdict.sd:.1f}"
    match verdict.say:
        case "accept":
            found = f"{'In tolerance' if good else 'To be accepted'}: {angle}."
        case "again":
            stop = "" if verdict.stop_angle is None else f" to {verdict.stop_angle:.1f}\u00b0"
            found = f"Under-bent: {angle}. Press again{stop}."
        case "over":
            found = f"Over-bent: {angle}."
        case "measure":
            found = f"Expected {angle}. Measure the tube."
    if verdict.worth > 0:
        found += f" Measuring it (m) would narrow that to \u00b1{verdict.sd - verdict.worth:.1f}."
    return f"{found} {printable(verdict.advice, DETAIL)}".rstrip()
