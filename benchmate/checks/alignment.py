"""Whether the arm was swung since the sensor that bench.yaml names was clamped on."""

from pathlib import Path
from typing import Any

from benchmate.checks.finding import Finding
from benchmate.errors import Failure
from benchmate.runtime.hardware import sensor_key
from benchmate.runtime.stored_alignment import frame_is_aligned
from benchmate.sensing.chips.registry import ENCODERS
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.mount.consistency import mismatches
from benchmate.shop.parts import Bench
from benchmate.store import Log


def look_at_alignment(bench: Bench, store: Path) -> Finding:
    """Say whether the store keeps an alignment of this sensor, and of which day."""
    try:
        with Log.open(store) as log:
            kept = log.finding("mount", sensor_key(bench))
            calibrated = log.finding("calibration", sensor_key(bench))
    except Failure:
        return Finding("missing", "alignment", "not looked at until the store works")
    if kept is None and bench.arm.plane == "horizontal" and bench.sensor.chip not in ENCODERS:
        told = f"the {bench.sensor.chip} reads gravity and can't do a bender that lies flat"
        cure = f"use an encoder on the pivot ({', '.join(ENCODERS)})"
        return Finding("wrong", "plane", f"bench.yaml says plane: horizontal; {told}; {cure}")
    if kept is None:
        return Finding("missing", "alignment", "none of this sensor yet; run benchmate align")
    return _judged(bench, kept, calibrated=calibrated is not None)


def _judged(bench: Bench, kept: dict[str, Any], *, calibrated: bool) -> Finding:
    """Hold what is kept against bench.yaml and what else is known."""
    if not frame_is_aligned(bench, kept):
        return Finding("missing", "alignment", "none of the frame's sensor; run benchmate align")
    mount = _mount(kept)
    told = () if mount is None else mismatches(bench.arm, mount)
    if told:
        return Finding("wrong", "alignment", " ".join(told))
    day = f"of {kept.get('taken', 'a day not known')}; anew when it was moved"
    if not calibrated:
        return Finding("works", "alignment", f"{day}; 'align --turn' would make the angle truer")
    if kept.get("calibration") is None:
        return Finding(
            "missing", "alignment", "the chip was calibrated since; run benchmate align once more"
        )
    return Finding("works", "alignment", f"{day}; chip calibrated")


def _mount(kept: dict[str, Any]) -> Mount | None:
    try:
        return Mount.from_plain(kept)
    except ValueError:
        # Kept by a program that knew less of it: nothing can be held against bench.yaml.
        return None
