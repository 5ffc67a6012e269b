"""How amounts are shown to people: angles, how sure they are, and which way to turn the tube."""

from benchmate.units import show_turn

SEEN_FROM = "seen from the last end"
"""What ``units.TURN_SEEN`` says at length: who looks along the feed stands at the last end."""
UNDER_DEG = 0.1
"""What is surer than this is called that: a smaller number would claim more than is known."""


def shown_deg(angle: float) -> str:
    """Write an angle to a tenth of a degree, without a minus before nought."""
    return f"{round(angle, 1) + 0.0:.1f}"


def give_or_take(sd_deg: float) -> str:
    """Give two standard deviations in degrees, as in "1.2": what holds 19 times in 20."""
    doubt = 2.0 * sd_deg
    return f"{doubt:.1f}" if doubt >= UNDER_DEG else f"under {UNDER_DEG:g}"


def doubted(sd_deg: float) -> str:
    """Give the words that stand behind an angle: "give or take 1.2"."""
    return f"give or take {give_or_take(sd_deg)}"


def turn_words(turn_deg: float) -> str:
    """Give a turn with the way it goes: "turn 45.0\u00b0 clockwise" or "no turn"."""
    amount, _, which = show_turn(turn_deg).partition(" ")
    return f"turn {amount}\u00b0 {which}" if which else "no turn"


def turn_seen_words(turn_deg: float) -> str:
    """Give a turn with the way it goes and from where that is seen."""
    words = turn_words(turn_deg)
    return words if words == "no turn" else f"{words} {SEEN_FROM}"
