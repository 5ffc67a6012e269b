"""What an alignment was worth, in words."""

from benchmate.screen.ink import Ink
from benchmate.screen.words import DETAIL
from benchmate.stream import Aligned
from benchmate.wording import printable

_LEVERAGE = (
    "Leverage is the part of gravity that turns with the arm: 1 where the pivot lies level, "
    "0 where it stands upright."
)


def good_to(aligned: Aligned) -> str:
    """Say within what an angle is true 19 times in 20; nothing where the bench didn't say."""
    if aligned.sd is None or aligned.arc_deg is None:
        return ""
    # Two of a reading's own deviations; none is finer than what a protractor could check.
    within = max(2.0 * aligned.sd, 0.01)
    return f"good to {within:.2f} degrees over {aligned.arc_deg:.0f} degrees of bending"


def outcome(aligned: Aligned, *, turn: bool) -> list[tuple[str, Ink]]:
    """Give what the screen says of an alignment that is kept: sentences and their ink."""
    figures = f"Residual {aligned.residual_deg:.2f} degrees, leverage {aligned.leverage:.2f}."
    good = good_to(aligned)
    if not good:
        return [(f"Kept. {figures}", "good"), (_LEVERAGE, "dim")]
    where = " where it was turned" if turn else ""
    warnings: list[tuple[str, Ink]] = [
        (printable(warning, DETAIL), "attend") for warning in aligned.warnings
    ]
    return [
        (f"Kept: the arm angle is {good}{where}.", "good"),
        *warnings,
        (f"{figures} {_LEVERAGE}", "dim"),
    ]
