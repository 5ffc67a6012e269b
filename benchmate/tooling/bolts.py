"""Bolts: stress area, proof load, preload from torque, stripping of a short tapped thread.

The sums are those of any book on machine elements: J. E. Shigley, "Mechanical Engineering Design",
chapter on screws and fasteners.
"""

import math

from benchmate.shop.threads import Thread, is_metric_grade, thread
from benchmate.shop.tooling import Bolts, Material
from benchmate.tooling.bounds import Bounds
from benchmate.units import INCH_MM, MPA_PER_KSI

NEWTON_PER_POUND = 4.4482216153

NUT_FACTOR = Bounds(0.15, 0.30)
"""K in T = K D F, from oiled to dry and rusty: the usual range in handbooks, 0.2 as delivered."""
SHEAR_OF_TENSILE = 0.577
"""Shear over tensile strength: 1/sqrt(3), von Mises."""
_THREAD_SHARE = Bounds(0.5, 0.8)
"""Of pi d times engaged length, what is sheared when an internal thread strips: between half (the
threads' play, worn taps) and the 0.75 to 0.79 that shear-area tables give for close fits."""


def stress_area_mm2(bolt: Thread) -> float:
    """Give the tensile stress area [mm2].

    Metric: ISO 898-1, pi/4 (d - 0.9382 P)^2. Unified: ASME B1.1, 0.7854 (D - 0.9743/n)^2.
    """
    share = 0.9743 if bolt.unified else 0.9382
    return math.pi / 4 * (bolt.diameter_mm - share * bolt.pitch_mm) ** 2


def proof_strength_mpa(bolt: Thread, grade: str) -> float:
    """Give the stress [MPa] that the bolt bears without a lasting stretch.

    ISO 898-1 by property class (8.8 has 580 to 16 mm, 600 above); SAE J429 by grade and diameter.
    """
    if is_metric_grade(grade):
        stated = {"4.6": 225.0, "5.8": 380.0, "10.9": 830.0, "12.9": 970.0}
        return stated.get(grade, 580.0 if bolt.diameter_mm <= 16 else 600.0)
    inches = bolt.diameter_mm / INCH_MM
    ksi = {
        "sae-2": 55.0 if inches <= 0.75 else 33.0,
        "sae-5": 85.0 if inches <= 1.0 else 74.0,
        "sae-8": 120.0,
    }[grade]
    return ksi * MPA_PER_KSI


def proof_source(grade: str) -> str:
    """Name the standard of a grade's proof strength."""
    return "ISO 898-1" if is_metric_grade(grade) else "SAE J429"


def proof_load_n(bolts: Bolts) -> float:
    """Give what one bolt bears without a lasting stretch [N]."""
    bolt = thread(bolts.size)
    return stress_area_mm2(bolt) * proof_strength_mpa(bolt, bolts.grade)


def preload_n(bolts: Bolts, nut_factor: Bounds = NUT_FACTOR) -> Bounds | None:
    """Give the clamping force of one bolt [N] from its torque, T = K D F; None: no torque known.

    No bolt is taken to hold more than its proof load: beyond it stretches.
    """
    if bolts.torque_nm is None:
        return None
    lever_mm = thread(bolts.size).diameter_mm
    force = Bounds(bolts.torque_nm * 1000, bolts.torque_nm * 1000).over(nut_factor.times(lever_mm))
    most = proof_load_n(bolts)
    return Bounds(min(force.low, most), min(force.high, most))


def stretching_torque_nm(bolts: Bolts, nut_factor: float = NUT_FACTOR.low) -> float:
    """Give the torque [N m] that stretches an oiled bolt to its proof load."""
    return nut_factor * thread(bolts.size).diameter_mm * proof_load_n(bolts) / 1000


def stripping_n(bolts: Bolts, tapped_in: Material) -> Bounds | None:
    """Give the pull [N] that strips the thread out of what it is tapped into; None: not tapped.

    pi d times the engaged length times a share of it, times the material's shear strength. Across
    the layers of a printed material, the weaker way.
    """
    if bolts.hold != "tapped" or bolts.engaged_mm is None:
        return None
    whole = math.pi * thread(bolts.size).diameter_mm * bolts.engaged_mm
    shear = Bounds(tapped_in.across_mpa, tapped_in.along_mpa).times(SHEAR_OF_TENSILE)
    return _THREAD_SHARE.times(whole).times(shear)
