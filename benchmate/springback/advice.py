"""What the person should know before going on, in one plain sentence; empty when nothing."""

import math

from benchmate.springback import noise
from benchmate.springback.aim import READ_SD, WantedAngle
from benchmate.springback.bend import VerdictWord
from benchmate.springback.gain import stood_still
from benchmate.springback.mixture import Mixture
from benchmate.springback.piece import PieceBelief

_HARDLY = 0.2


def before_first(after: Mixture, stop_sd: float, wanted: WantedAngle) -> str:
    """Advise before a first press that would leave ``after``; ``stop_sd``: the person's scatter."""
    best = math.erf(wanted.tolerance / (math.hypot(stop_sd, READ_SD) * math.sqrt(2)))
    if best < 0.5:
        return (
            f"Even the best press misses ±{wanted.tolerance:g}° in {1 - best:.0%} of bends: "
            f"stopping scatters by {stop_sd:.2f}°. Stop more slowly, or allow more."
        )
    if after.above(wanted.low) < _HARDLY:
        return (
            "Little is known of this setup yet: the first press stops short on purpose. "
            "Measure the tube after it, and the next press knows."
        )
    return ""


def after_press(
    verdict: VerdictWord, now: Mixture, wanted: WantedAngle, piece: PieceBelief, vain: float | None
) -> str:
    """Advise after a press that left the piece believed ``now``.

    ``vain``: how far the peak rose in the last two presses, if the tube gained nothing by them.
    """
    if piece.last_misread > 0.5:
        _, off, sds = piece.oddity
        return (
            f"The last reading is {off:+.1f}° off all else, {abs(sds):.0f} standard deviations: "
            f"{noise.MISREAD}? Measure again."
        )
    if vain is not None and stood_still(vain):
        return (
            f"Two presses took the arm {vain:.1f}° further and the tube stayed: "
            "does the clamp slip, or does the arm no longer take the tube along?"
        )
    if piece.ordinary < 0.5:
        what, off, sds = piece.oddity
        return (
            f"This piece is {off:+.1f}° off all that is known, {abs(sds):.0f} standard deviations: "
            f"{what}?"
        )
    tolerable = now.between(wanted.low, wanted.high)
    if verdict in ("accept", "measure") and tolerable < 0.5:
        told = f"The chance that it is within ±{wanted.tolerance:g}° is {tolerable:.0%}"
        return f"{told}." if piece.read else f"{told}: only a measured angle can tell."
    if vain is not None and verdict == "again":
        return "Two presses stopped where an earlier one had: pump on to the stop angle."
    return ""
