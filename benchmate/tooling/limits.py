"""Each part of a die against what a job asks of it, and what the file keeps from being told."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from benchmate.metal.tube_properties import STEEL_MODULUS_MPA
from benchmate.shop.parts import Die
from benchmate.shop.threads import thread
from benchmate.shop.tooling import Bolts, Material
from benchmate.tooling.bolts import (
    preload_n,
    proof_load_n,
    proof_source,
    stretching_torque_nm,
    stripping_n,
)
from benchmate.tooling.bounds import Bounds
from benchmate.tooling.contact import core_strength_mpa, creep_note, hertz_line
from benchmate.tooling.load import Load, bolt_n


class Limit(NamedTuple):
    """One part: what is asked of it and what it bears, each between two bounds."""

    part: str
    demand: Bounds
    capacity: Bounds
    unit: str
    source: str
    """Where the capacity comes from."""
    note: str = ""
    """What to do or to know; empty where there is nothing."""

    @property
    def ratio(self) -> float:
        """Give the most that may be asked over the most that may be borne.

        Over 1 even the kinder reading of the part's strength doesn't cover the load that can't be
        ruled out: that is past a limit.
        """
        return self.demand.high / self.capacity.high

    @property
    def says(self) -> str:
        """Say how the two spans lie to each other."""
        if self.demand.low > self.capacity.high:
            return "does not hold"
        if self.ratio > 1:
            return "may not hold"
        if self.demand.high <= self.capacity.low:
            return "holds"
        return "should hold; the sums leave it open"


def limits_of(die: Die, load: Load, materials: Mapping[str, Material]) -> tuple[Limit, ...]:
    """Hold each part that the die's file describes against the load."""
    return (*_bolts(die, load, materials), *_core(die, load, materials))


def untold(die: Die) -> tuple[str, ...]:
    """Say of each key that the die's file lacks what it keeps the program from telling."""
    said = []
    if die.core is None:
        said.append("core: whether the groove is crushed, and whether it gives way in time")
    if not die.bolts:
        said.append("bolts: whether they stretch or strip as the tube parts the plates")
    else:
        if any(each.radius_mm is None for each in die.bolts):
            said.append("bolts radius: how far the plates lever on them; twice is assumed")
        if any(each.torque_nm is None for each in die.bolts):
            said.append("bolts torque: whether the plates stay shut")
        if any(each.hold == "tapped" and each.engaged_mm is None for each in die.bolts):
            said.append("bolts engaged: whether their threads strip")
    if die.groove is None:
        said.append("groove: how the tube fits, and whether it wedges")
    if die.follower is None:
        said.append("follower: its force, better than within a factor of three")
    if die.bushing is None:
        said.append("bushing: how much of the slack is the pivot's play")
    return tuple(said)


def bushing_slack_deg(die: Die) -> float | None:
    """Give the arm rotation that the pivot's play allows at the groove [deg]; None: not measured.

    The play over the centreline radius: the die can shift by it before the tube feels it.
    """
    if die.bushing is None:
        return None
    play = die.bushing.bore_mm - die.bushing.pin_mm
    return 57.29577951308232 * play / die.centreline_radius_mm


def _bolts(die: Die, load: Load, materials: Mapping[str, Material]) -> Iterator[Limit]:
    for number, bolts in enumerate(die.bolts, 1):
        name = f"{bolts.size} {bolts.grade}"
        if len(die.bolts) > 1:
            name += f" (bolts {number})"
        pull = bolt_n(die, load, bolts.radius_mm)
        proof = proof_load_n(bolts)
        yield Limit(
            f"one bolt {name}, pull",
            pull,
            Bounds(proof, proof),
            "N",
            f"proof load, {proof_source(bolts.grade)}",
            _bolt_note(bolts, die),
        )
        clamp = preload_n(bolts)
        if clamp is not None:
            yield Limit(
                f"one bolt {name}, clamp",
                pull,
                clamp,
                "N",
                f"T = K D F from {bolts.torque_nm:.3g} N m, K 0.15 oiled to 0.30 dry",
                "past it the plates part, and what holds them is the bolt's stretch",
            )
        yield from _stripping(die, bolts, name, pull, materials)


def _stripping(
    die: Die, bolts: Bolts, name: str, pull: Bounds, materials: Mapping[str, Material]
) -> Iterator[Limit]:
    into = die.plates or die.core
    if into is None or into.material not in materials:
        return
    strips = stripping_n(bolts, materials[into.material])
    if strips is None:
        return
    yield Limit(
        f"one bolt {name}, thread in {into.material}",
        pull,
        strips,
        "N",
        f"pi d times {bolts.engaged_mm:g} mm engaged, half to four fifths of it sheared",
    )


def _bolt_note(bolts: Bolts, die: Die) -> str:
    if bolts.torque_nm is not None and bolts.torque_nm > stretching_torque_nm(bolts, 0.30):
        return f"{bolts.torque_nm:.3g} N m stretches it past its proof load whatever the friction"
    bottom = die.centreline_radius_mm - die.for_od_mm / 2
    half = thread(bolts.size).diameter_mm / 2
    if bolts.radius_mm is not None and bolts.radius_mm + half > bottom:
        return "its hole cuts into the groove; is the radius right?"
    return ""


def _core(die: Die, load: Load, materials: Mapping[str, Material]) -> Iterator[Limit]:
    core = die.core
    if core is None or core.material not in materials:
        return
    material = materials[core.material]
    depth = die.groove.depth_mm if die.groove and die.groove.depth_mm else die.for_od_mm / 2
    bears = core_strength_mpa(core, material, depth)
    yield Limit(
        f"core of {core.material}, pressure in the groove",
        load.pressure_mpa,
        bears,
        "MPa",
        f"materials.yaml: {material.source}",
        creep_note(material, load.pressure_mpa, bears) or "",
    )
    yield from _narrow_contact(die, load, material)


def _narrow_contact(die: Die, load: Load, material: Material) -> Iterator[Limit]:
    """Give the peak pressure of a tube in a stiff core's groove that is wider than it is.

    First yield under a line contact at 1.67 times the yield strength: K. L. Johnson, "Contact
    Mechanics", section 6.1. A soft core beds the tube in, and there is no narrow contact.
    """
    if die.groove is None or die.groove.width_mm <= die.for_od_mm:
        return
    touch = hertz_line(
        load.bearing_n_per_mm.high,
        die.for_od_mm / 2,
        die.groove.width_mm / 2,
        (STEEL_MODULUS_MPA, 0.3),
        (material.modulus_gpa * 1000, 0.33),
    )
    if touch is None:
        return
    yields = Bounds(1.67 * material.across_mpa, 1.67 * material.along_mpa)
    yield Limit(
        f"core of {material.material}, peak on the groove's bottom",
        Bounds(min(load.pressure_mpa.low, touch.peak_mpa), touch.peak_mpa),
        yields,
        "MPa",
        "1.67 times its yield strength, first yield under a line contact (Johnson)",
        "past it the groove beds in to the tube, as most do with their first bends",
    )
