"""The screen's words: cues, phases, faults, cautions, and what Enter does now."""

from typing import NamedTuple

from benchmate.screen.allowed import in_keys
from benchmate.screen.amounts import doubted, give_or_take, shown_deg
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
    short: str = ""
    """The words where there is little room."""


RESTART = "start again"
"""In place of a command for the bench: start its process anew."""
TYPE_ANGLE = "type the measured angle"
"""In place of a command for the bench: ask the person for the number that it lacks."""
LATCHED = "Move the pin; the tube stays loaded. Press b when the arm bears again."
UNSEEN = "The arm was not seen for a while: is the pressure off, press Enter; else pump on."
RAM_AT_END = "Ram at its end? Press b."


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
        return _after_verdict(state.verdict, target)
    if state.phase == "zeroing":
        return Due("zero", "Enter: take zero")
    past = state.phase == "holding" and state.reading and state.reading.cue in {"stop", "over"}
    if state.latched:
        return Due("", "b when the arm bears again")
    if past or (state.hurt and state.phase in {"bending", "holding"} and not state.faults):
        return Due("next", "Enter: pressure is off")
    return Due("", _NOTHING_DUE.get(state.phase, "Bend under way"))


def _after_verdict(verdict: Verdict, target: Target) -> Due:
    if verdict.say == "measure":
        # Nobody walks away from a bend that may be bad with the key for all is well.
        return Due(TYPE_ANGLE, "Enter: type the measured angle", "Enter: measured")
    if verdict.say == "again":
        return Due("next", "Enter: press again")
    onward = onward_words(target)
    if verdict.say == "over":
        return Due("next", f"Enter: keep as over-bent, {onward}", "Enter: keep it")
    return Due("next", f"Enter: {onward}")


def onward_words(target: Target) -> str:
    """Say what comes after this bend."""
    return "finish the job" if target.bend >= target.bends else "next bend"


def told(state: BenchState) -> str:
    """Give the one line that matters most: a lost bench, a fault, a verdict, advice, the phase."""
    if state.link != "up":
        return _link_words(state)
    if state.faults:
        worst = min(state.faults, key=lambda fault: _WORST_FIRST.index(fault.what))
        return f"{_TO_DO[worst.what]} {_sentence(printable(worst.detail, DETAIL))}"
    notice = printable(in_keys(state.notice), DETAIL)
    news = _sentence(printable(state.news, DETAIL))
    advice = "" if state.reading is None else printable(state.reading.advice, DETAIL)
    if notice and state.mid_hit:
        # Known anyway, and on a small terminal it would hide the sentence's end.
        return notice
    return " ".join(filter(None, (notice, news, _standing_words(state), advice)))


def _sentence(said: str) -> str:
    end = "" if said[-1:] in {".", "?", "!"} else "."
    return said and f"{said[:1].upper()}{said[1:]}{end}"


def _standing_words(state: BenchState) -> str:
    if state.verdict is not None:
        seen = state.seen(state.verdict.bend)
        return _verdict_words(state.verdict, good=seen is not None and seen.in_tolerance)
    if state.latched:
        return LATCHED
    if state.phase in {"bending", "holding"}:
        return _loaded_words(state)
    return _phase_words(state.phase, state.target)


def _loaded_words(state: BenchState) -> str:
    said = PHASE_WORDS[state.phase]
    if state.hurt:
        return f"{said} {UNSEEN}"
    if state.bites and state.reading is not None and state.reading.cue in {"pump", "slow"}:
        return RAM_AT_END
    return said


def arm_doubt_words(state: BenchState) -> str:
    """Say how sure the arm angle is while it is pumped by; else ""."""
    reading = state.reading
    if not state.steering or state.notice or reading is None or reading.sd is None:
        return ""
    return f"Arm angle: {doubted(reading.sd)}."


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
    angle = f"{shown_deg(verdict.bend_angle)}\u00b0, {doubted(verdict.sd)}"
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
        found += f" Measuring it (m) would make that {give_or_take(verdict.sd - verdict.worth)}."
    return f"{found} {printable(verdict.advice, DETAIL)}".rstrip()
