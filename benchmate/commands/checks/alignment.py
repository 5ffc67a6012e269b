"""Whether the arm was swung since the sensor that bench.yaml names was clamped on."""

from pathlib import Path

from benchmate.commands.checks.finding import Finding
from benchmate.commands.kept import frame_is_kept
from benchmate.commands.rig import sensor_key
from benchmate.errors import Failure
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
    if kept is None:
        return Finding("missing", "alignment", "none of this sensor yet; run benchmate align")
    if not frame_is_kept(bench, kept):
        return Finding("missing", "alignment", "none of the frame's sensor; run benchmate align")
    day = f"of {kept.get('taken', 'a day not known')}; anew when it was moved"
    if calibrated is None:
        return Finding("works", "alignment", f"{day}; 'align --turn' would make the angle truer")
    if kept.get("calibration") is None:
        return Finding(
            "missing", "alignment", "the chip was calibrated since; run benchmate align once more"
        )
    return Finding("works", "alignment", f"{day}; chip calibrated")
