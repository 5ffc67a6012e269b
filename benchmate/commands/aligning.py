"""The bench process of ``align``, put together."""

import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from benchmate import stream
from benchmate.bench.inputs import Asked, Closed, Notice
from benchmate.bench.live import LineWriter, Live, read_commands
from benchmate.bench.pins import Pins
from benchmate.bench.swing import SwingSession
from benchmate.clock import MonotonicClock
from benchmate.commands.rig import Rig, mount_key, real_rig, rehearsal_rig
from benchmate.errors import Failure
from benchmate.sensing.mount import Mount, Swing
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Bench, Signals
from benchmate.store import Store


class _Unestimated:
    """Samples as they are: there is no arm angle before the alignment."""

    def step(self, sample: Sample) -> Sample:
        """Give the sample."""
        return sample

    def reset(self) -> None:
        """Nothing is remembered."""


def align_plain(
    bench: Bench, store: Path, lines: IO[str], out: IO[str], rehearse: int | None = None
) -> int:
    """Take readings at once and a swing between begin and end; exit status.

    With a seed to ``rehearse`` a simulated arm swings when told to begin, and nothing is kept: a
    rehearsal aligns itself each time.
    """
    clock = MonotonicClock()
    if rehearse is not None:
        return _align(rehearsal_rig(bench, clock, rehearse), None, lines, out)
    with Store.open(store, clock) as kept:
        return _align(real_rig(bench), kept, lines, out)


def _align(rig: Rig, kept: Store | None, lines: IO[str], out: IO[str]) -> int:
    session = SwingSession(lambda: Swing(rig.bench.sensor, rig.chip.identity))
    live: Live[Sample]
    writer = LineWriter(out, lambda: live.put(Closed(rig.clock.now())))

    def emit(event: stream.Event) -> None:
        if isinstance(event, stream.Aligned) and session.mount is not None and kept is not None:
            # Said only once it is kept: what was heard must be true tomorrow.
            kept.keep("mount", mount_key(rig.bench), _finding(session.mount)).result()
        writer(event)

    live = Live(session, _Unestimated(), rig.clock, _nothing, emit)
    asked = read_commands(lines, stream.SWING_COMMANDS, rig.clock)
    try:
        live.run(rig.sampler().turns(), _swinging(asked, rig), Pins(Signals(), live.press))
    finally:
        writer.close()
    return 0 if session.mount is not None else 1


def _swinging(asked: Iterator[Notice], rig: Rig) -> Iterator[Notice]:
    for given in asked:
        yield given
        if rig.world is not None and isinstance(given, Asked) and given.command.word == "begin":
            rig.world.swing()


def _finding(mount: Mount) -> dict[str, object]:
    return {**mount.to_plain(), "on": time.strftime("%Y-%m-%d")}


def _nothing(*_: object) -> None:
    raise Failure("aligning logs no bends")
