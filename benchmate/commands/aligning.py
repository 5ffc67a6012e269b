"""The bench process of ``align``, put together."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from benchmate import stream
from benchmate.bench.aligning import AlignSession
from benchmate.bench.inputs import Asked, Closed, Notice
from benchmate.bench.live import LineWriter, Live, read_commands
from benchmate.bench.pins import Pins
from benchmate.clock import MonotonicClock
from benchmate.commands.kept import as_finding
from benchmate.commands.rehearsal import Protractor, learned_sensor
from benchmate.commands.rig import Rig, real_rig, rehearsal_rig, sensor_key
from benchmate.commands.signals import end_on_signals
from benchmate.errors import Failure
from benchmate.sensing.calibration import Calibration
from benchmate.sensing.frame import Mounts
from benchmate.sensing.sample import Sample
from benchmate.sensing.turn import Turn
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
    rehearse: int | None = None,
) -> int:
    """Take readings at once and a swing, or a turn of the box, between begin and end.

    Gives the exit status. With a seed to ``rehearse`` the simulated bench moves when told to begin,
    and nothing is kept: a rehearsal learns its sensor anew each time.
    """
    clock = MonotonicClock()
    if rehearse is not None:
        rig = rehearsal_rig(bench, clock, rehearse)
        known = None if turn else learned_sensor(bench, rehearse).calibration
        return _align(rig, None, _Lines(lines, out, turn, known))
    with Store.open(store, clock) as kept:
        known = None if turn else _known(bench, store)
        return _align(real_rig(bench), kept, _Lines(lines, out, turn, known))


@dataclass(frozen=True, slots=True)
class _Lines:
    asked: IO[str]
    told: IO[str]
    turn: bool
    known: Calibration | None = None
    """What a swing sees the chip through."""


def _session(
    rig: Rig, known: Calibration | None, *, turn: bool
) -> AlignSession[Mounts] | AlignSession[Calibration]:
    sensor, chip = rig.bench.sensor, rig.chip
    if turn:
        return AlignSession(lambda: Turn(sensor, chip.identity))
    return AlignSession(lambda: rig.swing(known))


def _align(rig: Rig, kept: Store | None, lines: _Lines) -> int:
    session = _session(rig, lines.known, turn=lines.turn)
    live: Live[Sample]
    encoder = lines.turn and rig.chip.facts.is_encoder
    protractor = Protractor(rig.world) if rig.world is not None and encoder else None
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

    live = Live(session, _Unestimated(), rig.clock, _nothing, emit, pulse=rig.transfers)
    end_on_signals(live, rig.clock)
    known = stream.TURN_COMMANDS if lines.turn else stream.SWING_COMMANDS
    asked = _moving(read_commands(lines.asked, known, rig.clock), rig, turn=lines.turn)
    try:
        live.run(rig.sampler().turns(), asked, Pins(Signals(), live.press))
    finally:
        writer.close()
    return 0 if session.learned is not None else 1


def _moving(asked: Iterator[Notice], rig: Rig, *, turn: bool) -> Iterator[Notice]:
    """Move the simulated arm or box when told to begin."""
    for given in asked:
        yield given
        if rig.world is not None and isinstance(given, Asked) and given.command.word == "begin":
            if turn:
                rig.world.turn_box()
            else:
                rig.world.swing()


def _known(bench: Bench, store: Path) -> Calibration | None:
    with Log.open(store) as log:
        found = log.finding("calibration", sensor_key(bench))
    return None if found is None else Calibration.from_plain(found)


def _nothing(*_: object) -> None:
    raise Failure("aligning logs no bends")
