"""The plan carried on from what is bent: new marks, turns, stop angles, and the words for it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from benchmate.layout.as_bent import AsBent
from benchmate.layout.distances import Distance, with_distances
from benchmate.layout.feasibility import straights_needed
from benchmate.layout.plan import Plan, PlannedBend, SpringbackModel, bends_of
from benchmate.layout.replan import Replanned, Room, replan
from benchmate.shop.parts import Die, Tube
from benchmate.units import LengthUnit, own_division_mm, show_length, show_on_tape, show_turn

TELL_MM = 0.25
TELL_DEG = 0.05
"""Changes smaller than these are not worth a word: no tape or protractor shows them."""
LOST_MM = 1.0
LOST_DEG = 0.3
"""What is left off at the end is said from these on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanUpdate:
    """The plan for the rest of the part. Done bends hold what they came out as."""

    plan: Plan
    replanned: Replanned
    told: tuple[str, ...]
    """What changed and why, and what can't be recovered, a sentence each; empty: nothing to say."""
    doubt: str = ""
    """A distance that can't be so if the bends are as believed, in a sentence, told first."""
    lost: str = ""
    """What the bends to come can't recover at the end, as in "1.5 mm off"; empty: next to nothing.
    """


def update_plan(
    first: Plan,
    done: Sequence[AsBent],
    setup: tuple[Die, Tube, SpringbackModel],
    *,
    distances: Sequence[Distance] = (),
    unit: LengthUnit = "mm",
    angles_within_deg: float = math.inf,
    keep: bool = False,
) -> PlanUpdate:
    """Plan the bends to come anew from how the bends done came out.

    ``first`` is always the plan that the tube was marked by; ``done`` all bends so far, in order,
    so that one fewer undoes the last. ``setup`` is the die, the tube and the springback model as
    learned by now; ``distances`` what a tape found across the bends done. No bend angle to come
    goes further than ``angles_within_deg`` from the first plan's. With ``keep`` marks, turns and
    angles stay the first plan's whatever came out, and only stop angles are learned. Pure.
    """
    die, tube, model = setup
    if keep:
        done, distances = [AsBent()] * len(done), ()
    room = Room(
        hold_mm=straights_needed(die, tube).between_mm,
        max_angle_deg=die.max_angle_deg,
        angle_deg=angles_within_deg,
    )
    doubt = ""
    if distances:
        corrected = with_distances(first.layout, done, distances, room, first.fit)
        done, doubt = corrected.done, corrected.outlier
    replanned = replan(first.layout, done, room, first.fit)
    part = replanned.part
    fresh = bends_of(part, first.parameters, model, first.tolerance_deg)
    made = [
        replace(
            bend,
            stop_angle_deg=was.stop_angle_deg,
            sd_deg=was.sd_deg,
            expected_angle_deg=was.expected_angle_deg,
            expected_sd_deg=was.expected_sd_deg,
        )
        for bend, was in zip(fresh[: len(done)], first.bends, strict=False)
    ]
    plan = replace(
        first,
        bends=(*made, *fresh[len(done) :]),
        tail_mm=float(part.straights_mm[-1]),
        centreline=part.centreline,
    )
    lost = _lost(replanned, unit)
    told = _told(first, plan, replanned, len(done), unit)
    if lost:
        told = (*told, f"not to be recovered by the bends to come: the end stays {lost}")
    told = (doubt, *told) if doubt else told
    return PlanUpdate(plan=plan, replanned=replanned, told=told, doubt=doubt, lost=lost)


def since_last_tube(last: Mapping[str, Any], plan: Plan, unit: LengthUnit) -> tuple[str, ...]:
    """Say what to cut and mark otherwise than on the tube before, a sentence each; () for nothing.

    ``last`` is the plan that the tube before was marked by, as its run keeps it; one of another
    part says nothing.
    """
    were = last.get("bends", ())
    if [each["bend_angle"] for each in were] != [each.bend_angle_deg for each in plan.bends]:
        return ()
    said = []
    before, after = (
        show_on_tape(length, unit) for length in (last["cut_length_mm"], plan.cut_length_mm)
    )
    if abs(plan.cut_length_mm - last["cut_length_mm"]) > TELL_MM and before != after:
        said.append(f"cut {after}, was {before}")
    for was, now in zip(were, plan.bends, strict=True):
        marked = replace(now, mark_mm=was["mark_mm"], turn_deg=was["turn_deg"])
        if change := _change(marked, now, unit):
            said.append(f"bend {now.bend}: {change}")
    return tuple(said)


def _told(
    first: Plan, plan: Plan, replanned: Replanned, done: int, unit: LengthUnit
) -> tuple[str, ...]:
    said: list[str] = []
    kept, changed = replanned.deviation_if_kept, replanned.deviation
    if replanned.changed:
        said.append(
            f"as bent, the end would be {_off(kept.off_mm, kept.askew_deg, unit)};"
            f" with these changes it is {_off(changed.off_mm, changed.askew_deg, unit)}"
        )
        for was, now in zip(first.bends[done:], plan.bends[done:], strict=True):
            if change := _change(was, now, unit):
                said.append(f"bend {now.bend}: {change}")
    elif not replanned.pays and (kept.off_mm > LOST_MM or kept.askew_deg > LOST_DEG):
        said.append(
            f"as bent, the end would be {_off(kept.off_mm, kept.askew_deg, unit)}, and marks and"
            " turns that nobody measured may move it by more: the first plan is kept"
        )
    trim = show_length(replanned.trim_mm, unit)
    if replanned.trim_mm > TELL_MM and trim != show_length(0.0, unit):
        said.append(f"cut {trim} off the last end afterwards")
    return tuple(said)


def _lost(replanned: Replanned, unit: LengthUnit) -> str:
    left = replanned.deviation
    if left.off_mm <= LOST_MM and left.askew_deg <= LOST_DEG:
        return ""
    return _off(left.off_mm, left.askew_deg, unit)


def _off(off_mm: float, askew_deg: float, unit: LengthUnit) -> str:
    askew = f" and {askew_deg:.1f} deg out of its direction" if askew_deg > TELL_DEG else ""
    return f"{show_length(off_mm, unit)} off{askew}"


def _change(was: PlannedBend, now: PlannedBend, unit: LengthUnit) -> str:
    """Say what changed of a bend on the tube as it was marked: new, old, and which way to go."""
    changes = []
    before, after = show_on_tape(was.mark_mm, unit), show_on_tape(now.mark_mm, unit)
    moved = now.mark_mm - was.mark_mm
    if abs(moved) > TELL_MM and before != after:
        way = "further from" if moved > 0 else "nearer to"
        division = own_division_mm(unit)
        steps = round(now.mark_mm / division) - round(was.mark_mm / division)
        by = show_on_tape(abs(steps) * division, unit)
        changes.append(f"mark {after}, was {before}: {by} {way} the first end")
    if abs(now.turn_deg - was.turn_deg) > TELL_DEG:
        changes.append(f"turn {show_turn(now.turn_deg)}, was {show_turn(was.turn_deg)}")
    if abs(now.bend_angle_deg - was.bend_angle_deg) > TELL_DEG:
        changes.append(f"bend angle {now.bend_angle_deg:.1f} deg, was {was.bend_angle_deg:.1f}")
    return "; ".join(changes)
