"""What an alignment is worth: how far off an angle may be in the bends that are to come."""

import math
from dataclasses import dataclass

from benchmate.sensing.calibration.error_model import Calibration, from_factory
from benchmate.sensing.calibration.harmonics import harmonic_row
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.filters.uncertainty import AngleUncertainty, swing_uncertainty
from benchmate.sensing.mount.alignment import Mount

WORKING_ARC_DEG = 120.0
"""As far as a hand-pumped bend goes; the doubt is told for the worst angle on the way there."""
LARGE_SD_DEG = 0.15
"""More than this eats up a tolerance of half a degree: 2 sd are 0.3 deg."""


@dataclass(frozen=True, slots=True)
class AlignmentAccuracy:
    """What is said of an alignment beside its residual and its leverage."""

    sd_deg: float
    """Of an angle at its worst over the working arc, for what averaging doesn't cure."""
    warnings: tuple[str, ...] = ()
    """One plain sentence each, with the cure."""


def mount_uncertainty(mount: Mount, known: Calibration, *, encoder: bool) -> AngleUncertainty:
    """Give the slow doubt by arm angle of a mount seen through what is known of its chip."""
    if encoder:
        return AngleUncertainty(
            lambda phi: harmonic_row(mount.start_deg + mount.sense * math.degrees(phi)),
            known.covariance,
            1.0,
        )
    plane = (mount.along, mount.across, mount.normal)
    return swing_uncertainty(
        plane, mount.leverage, mount.height_g, known.covariance, mount.normal_sd_deg
    )


def working_sd_deg(mount: Mount, facts: ChipFacts, calibration: Calibration | None) -> float:
    """Give the sd [deg] of an angle from zero, where the working arc has it worst.

    Counted is what averaging doesn't cure: what isn't known of the chip's errors, the plane as the
    swing found it, and at zero and at the angle the chip's slow noise, or what an encoder's table
    leaves. Warmth is not: nobody knows yet how warm it will be. ``calibration`` None: the chip is
    as it was made.
    """
    known = from_factory(facts) if calibration is None else calibration
    slow_deg = math.degrees(facts.slow_noise_g / mount.leverage) + known.local_sd_deg
    doubt = mount_uncertainty(mount, known, encoder=facts.is_encoder)
    return math.hypot(doubt.worst_deg(WORKING_ARC_DEG), math.sqrt(2.0) * slow_deg)


def accuracy_advice(sd_deg: float, facts: ChipFacts, calibration: Calibration | None) -> str:
    """Say what to do about a large doubt; nothing where it isn't."""
    if sd_deg <= LARGE_SD_DEG:
        return ""
    off = f"a bend may be off by {2.0 * sd_deg:.1f} deg and never show it"
    if calibration is None:
        how = "hold the arm at a dozen known angles" if facts.is_encoder else "turn its box round"
        return (
            f"The {facts.kind} was never calibrated: {off}; {how} once with 'benchmate align "
            "--turn', then align again."
        )
    if facts.is_encoder:
        return (
            f"The encoder's table has no stops where the arm bends: {off}; take stops all along "
            "that way with 'benchmate align --turn', then align again."
        )
    return (
        f"The {facts.kind} was turned in another plane than the arm swings in: {off}; turn it once "
        "more with 'benchmate align --turn', lying as it lies on the arm, then align again."
    )
