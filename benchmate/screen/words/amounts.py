"""How amounts are shown to people: angles, how sure they are, and which way to turn the tube."""

from benchmate.units import show_turn

DEGREE = "\u00b0"
PLUS_MINUS = "\u00b1"
SEEN_FROM = "seen from the last end"
"""What ``units.TURN_SEEN`` says at length: who looks along the feed stands at the last end."""
LEAST_SHOWN_DEG = 0.1
"""What is surer than this is called that: a smaller number would claim more than is known."""
NO_NUMBER = "--.-"


def shown_deg(angle: float) -> str:
    """Write an angle to a tenth of a degree, without a minus before nought."""
    return f"{round(angle, 1) + 0.0:.1f}"


def between(one: float, other: float) -> float:
    """Give ``one`` less ``other`` as they are shown, so that the three numbers add up."""
    return round(round(one, 1) - round(other, 1), 1) + 0.0


def two_sd(sd_deg: float) -> str:
    """Give two standard deviations in degrees, as in "1.2": what holds 19 times in 20."""
    spread = 2.0 * sd_deg
    return f"{spread:.1f}" if spread >= LEAST_SHOWN_DEG else f"under {LEAST_SHOWN_DEG:g}"


def give_or_take(sd_deg: float) -> str:
    """Give the words that stand behind an angle: "give or take 1.2"."""
    return f"give or take {two_sd(sd_deg)}"


def turn_words(turn_deg: float) -> str:
    """Give a turn with the way it goes: "turn 45.0\u00b0 clockwise" or "no turn"."""
    amount, _, which = show_turn(turn_deg).partition(" ")
    return f"turn {amount}{DEGREE} {which}" if which else "no turn"


def turn_seen_words(turn_deg: float) -> str:
    """Give a turn with the way it goes and from where that is seen."""
    words = turn_words(turn_deg)
    return words if words == "no turn" else f"{words} {SEEN_FROM}"
