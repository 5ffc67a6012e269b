"""How a tube answers the arm: slack, elastic, plastic, and what stays. Pure.

Angles are degrees of arm angle since the tube was clamped snug, or of bend angle. A loaded tube
stands at ``slack + bend angle + springback``; unloaded and reloaded it moves elastically between
there and ``slack + bend angle``, and yields on only past its former peak. The springback is
``legs + share x bend angle + piece``, the piece's own part being
``piece + piece_share x (legs + share x bend angle)``.
"""

import math
from dataclasses import dataclass, replace

_TOE_DEG = 0.4
"""The elastic part builds up over about so much bend angle, so that yielding begins smoothly."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What this die does with this very piece: nobody at the bench knows it."""

    slack_deg: float
    legs_deg: float
    """Springback that doesn't grow with the angle: the legs' elastic rotation."""
    share: float
    """Springback of the arc per degree of bend."""
    piece_deg: float = 0.0
    piece_share: float = 0.0


@dataclass(frozen=True, slots=True)
class SimulatedBend:
    """One place of a tube under the die, and the largest arm angle that it has seen."""

    truth: Truth
    peak_deg: float = 0.0

    def press(self, arm_deg: float) -> "SimulatedBend":
        """Bring the arm to this angle; only a new peak leaves anything behind."""
        return replace(self, peak_deg=arm_deg) if arm_deg > self.peak_deg else self

    @property
    def bend_angle_deg(self) -> float:
        """Give the bend angle that stays when the load is off."""
        pushed = self.peak_deg - self.truth.slack_deg
        if pushed <= 0.0:
            return 0.0
        # The loaded angle grows with the bend angle and starts below: bisection never fails.
        low, high = 0.0, pushed
        while high - low > 1e-10:
            middle = 0.5 * (low + high)
            if middle + springback_deg(self.truth, middle) < pushed:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)

    @property
    def rest_deg(self) -> float:
        """Give the arm angle at which the arm stands on the relaxed tube; 0 if never touched."""
        angle = self.bend_angle_deg
        return self.truth.slack_deg + angle if angle > 0.0 else 0.0


def springback_deg(truth: Truth, bend_angle_deg: float) -> float:
    """Give the springback, never below 0, of a loaded piece whose bend angle will be this."""
    grown = 1.0 - math.exp(-bend_angle_deg / _TOE_DEG)
    lasting = truth.legs_deg + truth.share * bend_angle_deg
    return grown * max(0.0, lasting * (1.0 + truth.piece_share) + truth.piece_deg)
