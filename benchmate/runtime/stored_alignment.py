"""What the store keeps of a bench's sensors: written by ``align``, read by ``watch`` and ``check``.

A mount is true only with the calibration that its swing was seen through, and a frame's mount only
with the arm's, so they are kept as one.
"""

import time
from pathlib import Path
from typing import Any

from benchmate.errors import Failure
from benchmate.runtime.hardware import AlignedSensor, sensor_key
from benchmate.sensing import chip_facts
from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.frame import Mounts
from benchmate.sensing.mount.alignment import Mount
from benchmate.shop.parts import Bench
from benchmate.store import Log


class NotAligned(Failure):
    """Nobody has swung the arm since its sensor was clamped on."""


def stored_sensor(bench: Bench, store: Path) -> AlignedSensor:
    """Give what was learned last of the bench's sensors; NotAligned when there is nothing."""
    with Log.open(store) as log:
        found = log.finding("mount", sensor_key(bench))
    if found is None:
        raise NotAligned(
            f"{bench.bench}: nobody has shown yet how the {bench.sensor.chip} sits on the arm; "
            "run 'benchmate align' once"
        )
    if not frame_is_aligned(bench, found):
        raise NotAligned(
            f"{bench.bench}: the sensor on the frame is new since the arm was swung; run "
            "'benchmate align' once"
        )
    seen_through = found.get("calibration")
    of_frame = found.get("frame") if bench.frame_sensor is not None else None
    return AlignedSensor(
        None if seen_through is None else Calibration.from_plain(seen_through),
        Mounts(Mount.from_plain(found), None if of_frame is None else Mount.from_plain(of_frame)),
    )


def frame_is_aligned(bench: Bench, found: dict[str, Any]) -> bool:
    """Tell whether the frame's sensor, if the bench has one, was aligned with the arm's."""
    if bench.frame_sensor is None:
        return True
    facts = chip_facts(bench.frame_sensor)
    kept = found.get("frame")
    return kept is not None and (kept["chip"], kept["address"]) == (facts.kind, facts.address)


def as_finding(learned: Mounts | Calibration, known: Calibration | None) -> dict[str, Any]:
    """Give what was learned as it is kept; ``known`` is what the swing was seen through."""
    today = {"taken": time.strftime("%Y-%m-%d")}
    if isinstance(learned, Calibration):
        return learned.to_plain() | today
    frame = learned.frame
    return {
        **learned.arm.to_plain(),
        **today,
        "calibration": None if known is None else known.to_plain(),
        "frame": None if frame is None else frame.to_plain(),
    }
