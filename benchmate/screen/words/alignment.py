"""What an alignment was worth, in words."""

from benchmate.screen.words.ink import Ink
from benchmate.screen.words.sentences import DETAIL
from benchmate.stream import Aligned
from benchmate.wording import printable

_GRAVITY = (
    "All of gravity turns with the arm where the pivot lies level, none where it stands upright."
)


def good_to(aligned: Aligned) -> str:
    """Say within what an angle is true 19 times in 20; nothing where the bench didn't say."""
    if aligned.sd is None or aligned.arc_deg is None:
        return ""
    # Two of a reading's own deviations; none is finer than what a protractor could check.
    within = max(2.0 * aligned.sd, 0.01)
    return f"good to {within:.2f} degrees over {aligned.arc_deg:.0f} degrees of bending"


def figures(aligned: Aligned) -> str:
    """Say how well the swing fits a circle, and how much of gravity turns with the arm."""
    return (
        f"the swing fits to {aligned.residual_deg:.2f} degrees, "
        f"{100.0 * aligned.leverage:.0f} % of gravity turns with the arm"
    )


def outcome(aligned: Aligned, *, turn: bool) -> list[tuple[str, Ink]]:
    """Give what the screen says of an alignment that is kept: sentences and their ink."""
    found = figures(aligned)
    found = f"{found[:1].upper()}{found[1:]}."
    good = good_to(aligned)
    if not good:
        return [(f"Kept. {found}", "good"), (_GRAVITY, "dim")]
    where = " where it was turned" if turn else ""
    warnings: list[tuple[str, Ink]] = [
        (printable(warning, DETAIL), "attend") for warning in aligned.warnings
    ]
    return [
        (f"Kept: the arm angle is {good}{where}.", "good"),
        *warnings,
        (f"{found} {_GRAVITY}", "dim"),
    ]
