"""The sentences under the large answer, and what Enter does now: functions of the state alone."""

from typing import NamedTuple

from benchmate.screen.state.bench_state import BenchState
from benchmate.screen.words.amounts import (
    DEGREE,
    between,
    give_or_take,
    shown_deg,
    turn_seen_words,
    two_sd,
)
from benchmate.screen.words.cues import PHASE_WORDS
from benchmate.screen.words.refusals import in_keys
from benchmate.stream import FaultWhat, Phase, Target, Verdict
from benchmate.units import show_on_tape
from benchmate.wording import printable

DETAIL = 300
"""Characters of a sentence from the bench that are shown, as far as they fit."""

_TO_DO: dict[FaultWhat, str] = {
    "sensor": "The angle is lost. Stop pumping.",
    "bus": "The angle is lost. Stop pumping. Check the cable.",
    "alignment": "The sensor has moved since it was aligned. Stop pumping; clamp it, run align.",
    "store": "This bend is not in the log yet. Write it down by hand.",
    "command": "Not understood.",
}
_WORST_FIRST: tuple[FaultWhat, ...] = ("sensor", "bus", "alignment", "store", "command")
"""One fault is told at a time: what hides the angle before what hides the log."""


class Due(NamedTuple):
    """What Enter does now: a command for the bench or "" for none, and the words that say so."""

    command: str
    words: str


RESTART = "start again"
"""In place of a command for the bench: start its process anew."""
MEASURE = "enter the measured angle"
"""In place of a command for the bench: ask the person for the number that it lacks."""
LATCHED = "The tube stays under load. Put the pin in the next hole; press b when the arm bears."
HIDDEN = "The arm was not seen for a while. If the pressure is off press Enter, else pump on."
LOOKING_ON = "Looking on: the bench is worked from its own screen."
RAM_AT_END = "If the ram is at its end press b."
ONE_MORE = "Short of the stop: one short stroke more."

_NOTHING_DUE: dict[Phase, str] = {
    "ready": "Nothing to press: pump.",
    "bending": "Nothing to press: pump to the stop angle, then release.",
    "holding": "Nothing to press: release, and the angle is read.",
    "releasing": "Nothing to press: release, and the angle is read.",
    "resting": "Nothing to press: the angle is being read.",
}


def due(state: BenchState) -> Due:
    """Say what Enter does now; with no command ``words`` is the sentence that says why not."""
    if state.link == "lost":
        return Due(RESTART, "look again" if state.following else "start the bench again")
    if state.link == "leaving":
        return Due("", "Ending: nothing to press.")
    if state.done or state.following:
        return Due("", LOOKING_ON if state.following else "All bends are done.")
    if state.unfinished is not None and state.link == "up":
        return Due("go_on", "go on")
    if state.link != "up" or state.target is None:
        return Due("", "Not yet: the bench is starting.")
    return _due_at_bend(state, state.target)


def _due_at_bend(state: BenchState, target: Target) -> Due:
    if state.verdict is not None and not state.reseats:
        return _after_verdict(state.verdict, target)
    if state.phase == "zeroing":
        if state.reading is None:
            return Due("", "Not yet: the sensor is starting.")
        return Due("zero", "set zero")
    if state.latched:
        return Due("", "Nothing to press but b, when the arm bears again.")
    past = state.phase == "holding" and state.reading and state.reading.cue != "wait"
    if past or (state.hurt and state.phase in {"bending", "holding"} and not state.blinding):
        return Due("next", "the pressure is off")
    return Due("", _NOTHING_DUE.get(state.phase, "Nothing to press now."))


def _after_verdict(verdict: Verdict, target: Target) -> Due:
    if verdict.say == "measure":
        # Nobody walks away from a bend that may be bad with the key for all is well.
        return Due(MEASURE, "enter measured angle")
    if verdict.say == "again":
        return Due("next", "press again")
    if verdict.say == "over":
        return Due("next", f"keep it over-bent, {onward_words(target)}")
    return Due("next", onward_words(target))


def onward_words(target: Target) -> str:
    """Say what comes after this bend."""
    if target.bend < target.bends:
        return "next bend"
    return "next tube" if target.tube < target.tubes else "finish the job"


def tube_words(target: Target) -> str:
    """Say which of the job's tubes this is, as in "Tube 3 of 10, 1 scrapped."; "" for one alone."""
    if target.tubes < 2 and not target.scrapped:
        return ""
    scrapped = f", {target.scrapped} scrapped" if target.scrapped else ""
    if target.tube > target.tubes:
        return f"Tube {target.tube}, one more than the {target.tubes} wanted{scrapped}."
    return f"Tube {target.tube} of {target.tubes}{scrapped}."


def changed_words(target: Target) -> str:
    """Say what was worked out again before this bend; one change alone is told itself."""
    if not target.changed:
        return ""
    since = target.bend == 1 and target.tube + target.scrapped > 1
    if since and len(target.changed) == 1:
        return f"Since the last tube {printable(target.changed[0], DETAIL)}."
    if since:
        return "Marks have changed since the last tube (c)."
    return "The rest of the part was worked out again from the bends made (c)."


def told(state: BenchState) -> str:
    """Give what is to be said now: a lost bench, a fault, a question, a verdict, what to do."""
    if state.link != "up":
        return _link_words(state)
    if state.blinding:
        worst = min(state.blinding, key=lambda fault: _WORST_FIRST.index(fault.what))
        return f"{_TO_DO[worst.what]} {_sentence(printable(worst.detail, DETAIL))}"
    notice = printable(in_keys(state.notice), DETAIL)
    if state.unfinished is not None:
        return f"{notice} {unfinished_words(state)}".strip()
    news = _sentence(printable(state.news, DETAIL))
    advice = "" if state.reading is None else printable(state.reading.advice, DETAIL)
    others = (fault for fault in state.faults if fault not in state.blinding)
    advice = " ".join([advice, *(_sentence(printable(each.detail, DETAIL)) for each in others)])
    if notice and state.mid_hit:
        # Known anyway, and on a small terminal it would hide the sentence's end.
        return notice
    return " ".join(filter(None, (notice, news, _standing_words(state), advice.strip())))


def unfinished_words(state: BenchState) -> str:
    """Ask about a run that was begun and not finished: go on with it, or begin a new part."""
    run = state.unfinished
    if run is None:
        return ""
    where = f"Bend {run.bend}"
    if run.in_hit:
        where += f", hit {run.hits + 1} broken off: how far the tube is bent is not known"
    elif run.hits:
        where += f", hit {run.hits} done"
        if run.arm is not None:
            where += f", the tube stood at {shown_deg(run.arm)}{DEGREE}"
    else:
        where += " not begun"
    old = f" That was {run.hours / 24.0:.0f} days ago." if run.hours >= 24.0 else ""
    changed = " The job's file has changed since." if run.job_changed else ""
    return f"{where}.{old}{changed} Go on with it (Enter), or begin a new part (n)?"


def place_words(state: BenchState) -> str:
    """Give mark and turn of the bend in a sentence; "" for one that belongs to no part."""
    target = state.target
    if target is None or target.mark is None:
        return ""
    mark = f"Mark {show_on_tape(target.mark, state.unit)}"
    return f"{mark}, {turn_seen_words(target.turn or 0.0)}."


def arm_words(state: BenchState) -> str:
    """Say how sure the arm angle is while it is pumped by; else ""."""
    reading = state.reading
    if not state.steering or state.notice or reading is None or reading.sd is None:
        return ""
    return f"Arm angle: {give_or_take(reading.sd)}."


def _sentence(said: str) -> str:
    end = "" if said[-1:] in {".", "?", "!"} else "."
    return said and f"{said[:1].upper()}{said[1:]}{end}"


def _standing_words(state: BenchState) -> str:
    if state.verdict is not None and not state.reseats:
        return verdict_words(state.verdict, state.target)
    if state.latched:
        return LATCHED
    if state.phase in {"bending", "holding"}:
        return _loaded_words(state)
    return _unloaded_words(state)


def _loaded_words(state: BenchState) -> str:
    if state.hurt:
        return HIDDEN
    cue = None if state.reading is None else state.reading.cue
    if state.bites and cue in {"pump", "slow"}:
        return RAM_AT_END
    if state.phase == "holding" and cue == "slow":
        return ONE_MORE
    return {
        "stop": "Stop pumping and let the arm stand still.",
        "release": "Let the pressure off slowly.",
        "over": "Past tolerance: stop. Let the pressure off slowly.",
    }.get(cue or "", "")


def _unloaded_words(state: BenchState) -> str:
    target, phase = state.target, state.phase
    if phase == "zeroing":
        return _zeroing_words(state, target)
    said = PHASE_WORDS[phase]
    if target is None or phase != "ready":
        return said
    if target.hit > 1:
        said = f"Pump again, to {shown_deg(target.stop_angle)}{DEGREE}."
    return f"{said} {printable(target.advice, DETAIL)}".rstrip()


def _zeroing_words(state: BenchState, target: Target | None) -> str:
    if state.unzeroed_deg:
        return (
            f"The arm was pumped {state.unzeroed_deg:.0f}{DEGREE} and zero is not set: nothing "
            "is measured. Release, clamp the tube snug, then Enter."
        )
    if state.reading is None:
        return "The sensor is starting."
    if state.zero_asked:
        return "Zero is being set: keep the arm still."
    seat = seat_words(target)
    said = seat or PHASE_WORDS["zeroing"]
    if target is None:
        return said
    tube = tube_words(target) if target.bend == 1 else ""
    said = " ".join(filter(None, (tube, changed_words(target), said)))
    return f"{said} {printable(target.advice, DETAIL)}".rstrip()


def seat_words(target: Target | None) -> str:
    """Say how to put a tube that is bent already back, when zero is taken on its rest."""
    if target is None or target.zero_at is None:
        return ""
    return (
        "Seat the bent tube in the die as it lay, at the same mark and turn, and bring the arm "
        "against it without load; then set zero: the arm will read "
        f"{shown_deg(target.zero_at)}{DEGREE}."
    )


def brief(state: BenchState) -> str:
    """Say in a few words what a small panel has no room to say at length; "" where it is short."""
    verdict, target = state.verdict, state.target
    if verdict is None or target is None or state.notice or state.link != "up" or state.blinding:
        return ""
    off = between(verdict.bend_angle, target.bend_angle)
    wanted = shown_deg(target.bend_angle)
    if verdict.say == "again" and verdict.stop_angle is not None:
        short = f"{-off:.1f} short: press" if off < 0 else "Press"
        return f"{short} again to {verdict.stop_angle:.1f}{DEGREE}, or keep it (s)."
    if verdict.say == "measure":
        return f"{wanted} wanted, \u00b1{two_sd(verdict.sd)}: measure the tube."
    return f"{abs(off):.1f} {'over' if off > 0 else 'short of'} {wanted}." if off else ""


def _link_words(state: BenchState) -> str:
    if state.link == "starting":
        return "The bench is starting."
    return _leaving_words(state) if state.link == "leaving" else _gone_words(state)


def _leaving_words(state: BenchState) -> str:
    if state.following:
        return "No longer looking on; the bench goes on."
    if state.mid_hit and state.by_hand:
        return "The valve is opened: the hit is logged, then this ends. q: leave at once."
    if state.mid_hit:
        return "Finish the hit and release: it is logged, then this ends. q: leave at once."
    return "Ending: the bench logs what it has. q: leave at once."


def _gone_words(state: BenchState) -> str:
    ended = state.ended
    said = f" It said: {printable(ended.complaint, DETAIL)}" if ended and ended.complaint else ""
    if state.link == "again":
        return f"The bench program ended and is being started again: stop pumping.{said}"
    if state.following:
        return f"The bench is no longer heard.{said}"
    if state.target is None:
        return f"The bench could not start.{said}"
    return f"The bench program ended: stop pumping.{said}"


def verdict_words(verdict: Verdict, target: Target | None) -> str:
    """Say what the bend came to and what can be done."""
    angle = f"{shown_deg(verdict.bend_angle)}{DEGREE}, {give_or_take(verdict.sd)}"
    wanted = None if target is None else target.bend_angle
    off = 0.0 if wanted is None else between(verdict.bend_angle, wanted)
    of = "" if wanted is None else f" of {shown_deg(wanted)}"
    match verdict.say:
        case "accept":
            found = f"Bent to {angle}."
        case "again":
            short = f"{-off:.1f} short{of}. " if off < 0 else ""
            stop = "" if verdict.stop_angle is None else f" to {verdict.stop_angle:.1f}{DEGREE}"
            found = f"Bent to {angle}. {short}Press again{stop}, or keep it as it is (s)."
        case "over":
            past = f": {off:.1f} past{of}" if off > 0 else ""
            found = f"Bent to {angle}{past}. It can't be pressed back."
        case "measure":
            found = f"About {angle}: the arm can't tell closer. Measure the tube."
    if verdict.worth > 0:
        found += f" Measuring it (m) would make that {two_sd(verdict.sd - verdict.worth)}."
    return f"{found} {printable(verdict.advice, DETAIL)}".rstrip()
