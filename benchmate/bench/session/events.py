"""What the session knows, as stream events. Pure."""

from benchmate import stream
from benchmate.bench.motion.cue import Guide, strokes_left
from benchmate.bench.motion.tracker import Track
from benchmate.bench.session import bend as bends
from benchmate.bench.session.bend import OpenBend
from benchmate.bench.session.run import Run
from benchmate.bench.session.state import UnfinishedRun
from benchmate.errors import Refusal
from benchmate.sensing.sample import ArmEstimate

UNSEEN = (
    "The arm was not seen for a while, and a peak may be hidden. Is the pressure off, say next; "
    "else go on."
)


def target(run: Run, advice: str = "", undone: str = "") -> stream.Target:
    """Give the target event for the hit at hand, or for the one that a standing verdict judges."""
    bend, target = run.bend, run.bend.target
    place = run.plan.bends[bend.index] if run.plan.bends else None
    return stream.Target(
        bend=bend.number,
        hit=len(bend.hits) + (bend.verdict is None),
        bend_angle=bend.angle,
        stop_angle=target.stop_angle,
        sd=target.stop_sd,
        tolerance=bend.tolerance,
        bends=len(run.task.bend_angles),
        over_angle=target.over_angle,
        advice=advice or target.advice,
        mark=None if place is None else place.mark_mm,
        turn=None if place is None else place.turn_deg,
        changed=_changed(run),
        drawn_angle=bend.drawn,
        undone=undone,
        zero_at=run.zero_at,
        tube=run.task.tube_number,
        tubes=run.task.tubes,
        scrapped=run.task.scrapped,
    )


def _changed(run: Run) -> tuple[str, ...]:
    """Give what planning anew has changed; before anything is bent, since the tube before."""
    if run.plan.told or run.done or run.bend.hits:
        return run.plan.told
    return run.task.since_last_tube


def verdict(bend: OpenBend, taken: str = "", advice: str = "") -> stream.Verdict:
    """Give the verdict event; the bend has a verdict standing.

    ``taken``: the measurement that brought it; ``advice``: what to know of that.
    """
    aim = bend.verdict or bend.target
    return stream.Verdict(
        say=aim.verdict,
        bend_angle=aim.bend_angle,
        sd=aim.sd,
        stop_angle=aim.stop_angle if aim.verdict == "again" else None,
        bend=bend.number,
        hits=len(bend.hits),
        worth=aim.worth,
        advice=advice or aim.advice,
        taken=taken,
    )


def reading(
    live: ArmEstimate,
    track: Track,
    guide: Guide,
    phase: stream.Phase,
    stop_angle: float,
    *,
    advice: str = "",
) -> stream.Reading:
    """Give the live reading; between two bites the arm holds its value."""
    arm = track.arm if track.latched is None else track.latched
    to_go = stop_angle - arm
    return stream.Reading(
        t=live.t,
        arm=arm,
        rate=live.rate_dps,
        sd=live.sd_deg,
        to_go=to_go,
        phase=phase,
        cue=guide.cue,
        strokes=strokes_left(guide, to_go),
        advice=advice,
    )


def blind(t: float, phase: stream.Phase) -> stream.Reading:
    """Give the reading of an arm that is not known."""
    return stream.Reading(t=t, arm=None, rate=None, sd=None, to_go=None, phase=phase, cue="wait")


def undone(what: str, bend: OpenBend) -> str:
    """Say which step was taken back, and where that leaves the bend."""
    if bend.verdict is not None:
        left = f"the verdict on hit {len(bend.hits)} of bend {bend.number} stands again"
    elif what == "zero":
        left = f"bend {bend.number} is to be zeroed"
    else:
        left = f"hit {len(bend.hits) + 1} of bend {bend.number} is to be made"
    return f"Taken back: {what}; {left}."


def advice_on(run: Run, taken: str) -> str:
    """Say what to know of a verdict beside its own advice; empty: nothing more.

    Of a distance that was taped: whether it can be. After the last bend: where the part ends.
    """
    aim = run.bend.verdict
    try:
        if taken.startswith("taped"):
            return run.with_bend(run.bend).doubt
        if taken.startswith(("turned", "marked")) or aim is None or not run.is_last:
            return ""
        if not run.plan.bends or aim.verdict not in ("accept", "over"):
            return ""
        lost = run.with_bend(run.bend).lost
    except Refusal:
        return ""
    return f"{aim.advice} The part's end is {lost}.".strip() if lost else ""


def unfinished(given: UnfinishedRun) -> stream.Unfinished:
    """Say which run was begun and not finished, and how far its tube was bent."""
    bend = given.run.bend
    return stream.Unfinished(
        run=given.run.task.run_id,
        bend=bend.number,
        hits=len(bend.hits),
        arm=bends.rest_of(bend, given.run.model) if bend.hits else None,
        hours=given.hours,
        job_changed=given.job_changed,
        in_hit=given.run.in_hit,
    )


def waiting(live: ArmEstimate) -> stream.Reading:
    """Give the live reading of an arm that nobody has zeroed and nothing is asked of."""
    return stream.Reading(
        t=live.t,
        arm=live.arm_deg,
        rate=live.rate_dps,
        sd=live.sd_deg,
        to_go=None,
        phase="zeroing",
        cue="wait",
    )
