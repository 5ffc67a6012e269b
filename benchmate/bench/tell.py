"""What the session knows, as stream events. Pure."""

from benchmate import stream
from benchmate.bench.course import Course
from benchmate.bench.motion.cue import Guide, strokes_left
from benchmate.bench.motion.tracker import Track
from benchmate.bench.piece import Piece
from benchmate.sensing.sample import ArmEstimate

UNSEEN = (
    "The arm was not seen for a while, and a peak may be hidden. Is the pressure off, say next; "
    "else go on."
)


def target(
    piece: Piece, course: Course, bends: int, advice: str = "", undone: str = ""
) -> stream.Target:
    """Give the target event for the hit at hand, or for the one that a standing verdict judges.

    ``course`` says where the bend is on the tube.
    """
    place = course.places[piece.index] if course.places else None
    return stream.Target(
        bend=piece.number,
        hit=len(piece.hits) + (piece.verdict is None),
        bend_angle=piece.angle,
        stop_angle=piece.target.stop_angle,
        sd=piece.target.stop_sd,
        tolerance=piece.tolerance,
        bends=bends,
        over_angle=piece.target.over_angle,
        advice=advice or piece.target.advice,
        mark=None if place is None else place.mark_mm,
        turn=None if place is None else place.turn_deg,
        changed=course.told,
        drawn_angle=piece.drawn,
        undone=undone,
    )


def verdict(piece: Piece, taken: str = "", advice: str = "") -> stream.Verdict:
    """Give the verdict event; the piece has a verdict standing.

    ``taken``: the measurement that brought it; ``advice``: what to know of that.
    """
    aim = piece.verdict or piece.target
    return stream.Verdict(
        say=aim.verdict,
        bend_angle=aim.bend_angle,
        sd=aim.sd,
        stop_angle=aim.stop_angle if aim.verdict == "again" else None,
        bend=piece.number,
        hits=len(piece.hits),
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


def undone(what: str, piece: Piece) -> str:
    """Say which step was taken back, and where that leaves the piece."""
    if piece.verdict is not None:
        left = f"the verdict on hit {len(piece.hits)} of bend {piece.number} stands again"
    elif what == "zero":
        left = f"bend {piece.number} is to be zeroed"
    else:
        left = f"hit {len(piece.hits) + 1} of bend {piece.number} is to be made"
    return f"Taken back: {what}; {left}."
