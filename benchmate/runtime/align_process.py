"""The bench process of ``align``, put together."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from benchmate import stream
from benchmate.bench.aligning import AlignSession
from benchmate.bench.event_loop import EventLoop, WhenKept, read_commands
from benchmate.bench.inputs import Asked, Closed, Notice
from benchmate.bench.pins import Pins
from benchmate.bench.session import Row
from benchmate.bench.writers import LineWriter
from benchmate.clock import MonotonicClock
from benchmate.errors import Failure
from benchmate.runtime.hardware import Hardware, real_hardware, sensor_key, simulated_hardware
from benchmate.runtime.options import ChipOption
from benchmate.runtime.second_sensor import (
    PairedHardware,
    bench_of,
    paired_hardware,
    stored_calibration,
)
from benchmate.runtime.shutdown_signals import end_on_signals
from benchmate.runtime.simulation import ArmProtractor, learned_chip, learned_sensor
from benchmate.runtime.stored_alignment import as_finding
from benchmate.sensing.calibration.encoder_reference import EncoderReferenceCalibration
from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration
from benchmate.sensing.frame import Mounts
from benchmate.sensing.mount.accuracy import AlignmentAccuracy, accuracy_advice, working_sd_deg
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.mount.consistency import mismatches
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Bench, Signals
from benchmate.store import Log, Store


class _Unestimated:
    """Samples as they are: there is no arm angle before the alignment."""

    def step(self, sample: Sample) -> Sample:
        """Give the sample."""
        return sample

    def reset(self) -> None:
        """Nothing is remembered."""


def align_plain(
    bench: Bench,
    store: Path,
    lines: IO[str],
    out: IO[str],
    *,
    turn: bool = False,
    against: ChipOption | None = None,
    rehearse: int | None = None,
) -> int:
    """Take readings at once and a swing, or a turn of the box, between begin and end.

    ``against``: the turn is the arm's, and this chip beside the encoder says how it stands at each
    stop. Gives the exit status. With a seed to ``rehearse`` the simulated bench moves when told to
    begin, and nothing is kept: a rehearsal learns its sensor anew each time.
    """
    clock = MonotonicClock()
    known: Calibration | None
    if rehearse is not None:
        if against is not None:
            known = learned_chip(bench_of(bench, against), rehearse)
            rig: Hardware = paired_hardware(bench, against, clock, rehearse)
        else:
            known = None if turn else learned_sensor(bench, rehearse).calibration
            rig = simulated_hardware(bench, clock, rehearse)
        return _align(rig, None, _Lines(lines, out, turn, known))
    with Store.open(store, clock) as kept:
        if against is not None:
            known = stored_calibration(bench, against, store)
            return _align(
                paired_hardware(bench, against, clock), kept, _Lines(lines, out, turn, known)
            )
        known, before = (None, None) if turn else _known(bench, store)
        return _align(real_hardware(bench), kept, _Lines(lines, out, turn, known, before))


@dataclass(frozen=True, slots=True)
class _Lines:
    asked: IO[str]
    told: IO[str]
    turn: bool
    known: Calibration | None = None
    """What a swing sees its chip through, or a turn the chip beside the encoder."""
    before: Mount | None = None
    """What the last swing has found."""


def _session(rig: Hardware, lines: _Lines) -> AlignSession[Mounts] | AlignSession[Calibration]:
    sensor, chip, known = rig.bench.sensor, rig.chip, lines.known
    if isinstance(rig, PairedHardware):
        if known is None:
            raise ValueError("an encoder is tried against a calibrated chip")
        beside = rig.beside
        return AlignSession(
            lambda: EncoderReferenceCalibration(sensor, beside, known, chip.identity)
        )
    if lines.turn:
        return AlignSession(lambda: MultiPositionCalibration(sensor, chip.identity))

    def judge(mounts: Mounts) -> AlignmentAccuracy:
        sd = working_sd_deg(mounts.arm, chip.facts, known)
        cure = accuracy_advice(sd, chip.facts, known)
        told = mismatches(rig.bench.arm, mounts.arm, lines.before)
        return AlignmentAccuracy(sd, (*told, cure) if cure else told)

    return AlignSession(lambda: rig.swing(known), judge)


def _align(rig: Hardware, kept: Store | None, lines: _Lines) -> int:
    session = _session(rig, lines)
    live: EventLoop[Sample]
    by_hand = lines.turn and rig.chip.facts.is_encoder and not isinstance(rig, PairedHardware)
    protractor = ArmProtractor(rig.world) if rig.world is not None and by_hand else None
    writer = LineWriter(lines.told, lambda: live.put(Closed(rig.clock.now())))

    def emit(event: stream.Event) -> None:
        learned = session.learned
        if isinstance(event, stream.Aligned) and learned is not None and kept is not None:
            # Said only once it is kept: what was heard must be true tomorrow.
            kind = "calibration" if lines.turn else "mount"
            promise = kept.keep(kind, sensor_key(rig.bench), as_finding(learned, lines.known))
            if (failure := promise.exception()) is not None:
                writer(stream.Fault(what="store", detail=str(failure)))
                raise failure
        writer(event)
        if protractor is not None and (reads := protractor.read([event])):
            live.put(Asked(rig.clock.now(), reads))

    live = EventLoop(session, _Unestimated(), rig.clock, _nothing, emit, pulse=rig.transfers)
    end_on_signals(live, rig.clock)
    known = stream.TURN_COMMANDS if lines.turn else stream.SWING_COMMANDS
    typed = stream.lines_in(lines.asked)
    asked = _moving(read_commands(typed, known, rig.clock), rig, turn=lines.turn)
    try:
        live.run(rig.sampler().turns, asked, Pins(Signals(), live.press))
    finally:
        writer.close()
    return 0 if session.learned is not None else 1


def _moving(asked: Iterator[Notice], rig: Hardware, *, turn: bool) -> Iterator[Notice]:
    """Move the simulated arm or box when told to begin."""
    for given in asked:
        yield given
        if rig.world is not None and isinstance(given, Asked) and given.command.word == "begin":
            if turn:
                rig.world.turn_box()
            else:
                rig.world.swing()


def _known(bench: Bench, store: Path) -> tuple[Calibration | None, Mount | None]:
    with Log.open(store) as log:
        chip = log.finding("calibration", sensor_key(bench))
        mount = log.finding("mount", sensor_key(bench))
    return (
        None if chip is None else Calibration.from_plain(chip),
        None if mount is None else Mount.from_plain(mount),
    )


def _nothing(row: Row, done: WhenKept) -> None:  # noqa: ARG001 - a Keep's shape
    raise Failure("aligning logs no bends")
