"""The bench process of ``align``, put together."""

import time
from pathlib import Path
from typing import IO

from benchmate import stream
from benchmate.bench.inputs import Closed
from benchmate.bench.live import LineWriter, Live, read_commands
from benchmate.bench.pins import Pins
from benchmate.bench.swing import SwingSession
from benchmate.commands.rehearsal import swung_mount
from benchmate.commands.rig import mount_key, real_rig
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


def align_plain(bench: Bench, store: Path, lines: IO[str], out: IO[str]) -> int:
    """Align on the real bench: readings at once, a swing between begin and end."""
    rig = real_rig(bench)
    with Store.open(store, rig.clock) as kept:
        session = SwingSession(lambda: Swing(bench.sensor, rig.chip.identity))
        ended: list[Live[Sample]] = []
        writer = LineWriter(out, lambda: ended[0].put(Closed(rig.clock.now())))

        def emit(event: stream.Event) -> None:
            if isinstance(event, stream.Aligned) and session.mount is not None:
                # Said only once it is kept: what was heard must be true tomorrow.
                kept.keep("mount", mount_key(bench), _finding(session.mount)).result()
            writer(event)

        live = Live(session, _Unestimated(), rig.clock, _nothing, emit)
        ended.append(live)
        try:
            asked = read_commands(lines, stream.SWING_COMMANDS, rig.clock)
            live.run(rig.sampler().turns(), asked, Pins(Signals(), live.press))
        finally:
            writer.close()
    return 0 if session.mount is not None else 1


def align_simulated(bench: Bench, seed: int, out: IO[str]) -> int:
    """Align the simulated bench and say how it went; nothing is kept."""
    mount = swung_mount(bench, seed)
    aligned = stream.Aligned(residual_deg=mount.residual_deg, leverage=mount.leverage)
    out.write(stream.write_event(aligned) + "\n")
    return 0


def _finding(mount: Mount) -> dict[str, object]:
    return {**mount.to_plain(), "on": time.strftime("%Y-%m-%d")}


def _nothing(*_: object) -> None:
    raise Failure("aligning logs no bends")
