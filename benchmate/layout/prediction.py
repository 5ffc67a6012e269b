"""What a plan's part may come out as: its ends' scatter, and whether the tolerance is in reach."""

import math
from dataclasses import dataclass

from benchmate.layout.plan import Plan, SpringbackModel
from benchmate.layout.propagation import IN_95, EndScatter, Spread, propagate
from benchmate.units import LengthUnit, show_about, show_on_tape

_Sds = tuple[float, float]
PRESSES = 0.9
"""Tolerance over the scatter of a press from which pressing again and again ends well.

A press aims so low that 2 in 100 end above tolerance; short of it, it is pressed again. Bends end
in tolerance 19 times in 20 when at least 38 of 100 presses do: a tolerance of 0.9 scatters.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class EndPrediction:
    """The foretold scatter of a plan's part, with what it was worked out from."""

    scatter: EndScatter
    spread: Spread
    least_tolerance_deg: float
    """The tightest tolerance of angle that this setup holds 19 times in 20."""
    reachable: bool
    """Whether the job's own is no tighter."""

    def told(self, unit: LengthUnit = "mm") -> tuple[str, ...]:
        """Say it in plain sentences."""
        foretold = self.scatter
        said = [
            f"the last end should lie within {show_about(foretold.off_95_mm, unit)} of its place"
            f" and {foretold.askew_95_deg:.1f} deg of its direction, 19 times in 20; the ends are"
            f" {show_on_tape(foretold.opening_mm, unit)} apart, give or take"
            f" {show_about(foretold.opening_95_mm, unit)}"
        ]
        if len(foretold.shares) > 1:
            share = 100 * foretold.shares[foretold.matters_most - 1]
            said.append(f"bend {foretold.matters_most} matters most for that ({share:.0f} %)")
        if not self.reachable:
            said.append(
                "the job's tolerance isn't to be reached on this setup as it is known:"
                f" {self.least_tolerance_deg:.1f} deg is"
            )
        return tuple(said)


def predict_ends(
    plan: Plan, model: SpringbackModel, mark_mm: float = 1.0, turn_deg: float = 1.0
) -> EndPrediction:
    """Foretell the scatter of the part from that of angle, mark and turn.

    ``mark_mm`` and ``turn_deg`` are one standard deviation of what a person with tape and level
    leaves (our own allowances, no source). A finished bend scatters as a press that follows a
    measured one does, and no more than its tolerance lets it.
    """
    after = {
        angle: _pressed_again(angle, plan.tolerance_deg, model)
        for angle in {bend.bend_angle_deg for bend in plan.bends}
    }
    evenly = plan.tolerance_deg / math.sqrt(3)
    spread = Spread(
        angle_deg=tuple(min(after[bend.bend_angle_deg][1], evenly) for bend in plan.bends),
        mark_mm=mark_mm,
        turn_deg=turn_deg,
        radius_mm=plan.parameters.free_radius_mm.u,
        start_offset_mm=plan.parameters.start_offset_mm.u,
        stretch=plan.parameters.stretch.u,
    )
    least = max(max(IN_95 * known, PRESSES * press) for known, press in after.values())
    return EndPrediction(
        scatter=propagate(plan.layout, spread),
        spread=spread,
        least_tolerance_deg=least,
        reachable=plan.tolerance_deg >= least,
    )


def _pressed_again(
    angle_deg: float, tolerance_deg: float, model: SpringbackModel
) -> tuple[float, float]:
    """Give how well a measured bend is known, and the scatter of the press that follows it (sd)."""
    first = model.aim(bend_angle=angle_deg, tolerance=tolerance_deg).stop_angle
    likely = model.aim(angle_deg, tolerance_deg, ((first, None, None),)).bend_angle
    then = model.aim(angle_deg, tolerance_deg, ((first, None, likely),))
    return then.sd, then.stop_sd
