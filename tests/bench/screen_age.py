"""How far the painted angle is behind the true one at 5 degrees a second.

    python tests/bench/screen_age.py [SECONDS]

The arm of ramp.py is known at every instant, so the angle on the screen tells its age. Sampled
evenly over the time (a millisecond grid), from the moment that a frame went to the terminal.
Yardstick of the same run: the newest reading in the screen's box, as if painting took no time.
Reach: 95 % within 80 ms, at 20 frames a second or more.
"""

import itertools
import json
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

from in_a_terminal import run
from ramp import RATE_DPS, SPAN_DEG, angle

HERE = Path(__file__).parent


def painted() -> None:
    """Run the bend screen and note each frame; be the child process."""
    import time

    from benchmate.screen.app import BenchApp

    seconds, file = float(sys.argv[2]), Path(sys.argv[3])
    frames: list[tuple[float, float]] = []
    boxes: list[tuple[float, float]] = []

    class Noting(BenchApp):
        def _display(self, *args: Any, **kwargs: Any) -> None:
            super()._display(*args, **kwargs)
            if self.state.shown is not None:
                frames.append((time.monotonic(), self.state.shown.arm))

    app = Noting(
        ["ramp"],
        lambda _job: None,
        lambda _job, _bend: [sys.executable, str(HERE / "ramp.py")],
        job="ramp",
        rehearsal=True,
        cautions=False,
    )

    def note_box() -> None:
        newest = app.bench.latest() if app.bench is not None else None
        if newest is not None and newest.arm is not None:
            boxes.append((time.monotonic(), newest.arm))

    def finish() -> None:
        file.write_text(json.dumps({"frames": frames, "boxes": boxes}))
        app.exit(0)

    app.call_later(lambda: (app.set_interval(0.001, note_box), app.set_timer(seconds, finish)))
    app.run()


def behind_ms(steps: list[tuple[float, float]]) -> list[float]:
    """Give how far each millisecond's standing value is behind the truth, in ms."""
    found = []
    for (at, shown), (until, _) in itertools.pairwise(steps):
        for grain in range(int((until - at) * 1000)):
            gap = (angle(at + grain / 1000) - shown) % SPAN_DEG
            # A number rounded up is ahead of the arm: a small negative age.
            gap = gap - SPAN_DEG if gap > 0.9 * SPAN_DEG else gap
            found.append(1000 * gap / RATE_DPS)
    return found


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 15.0
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "noted"
        run([sys.executable, __file__, "--child", str(seconds), str(file)], seconds + 20.0)
        noted = json.loads(file.read_text())
    for name, steps in (("painted", noted["frames"]), ("newest reading", noted["boxes"])):
        ages = behind_ms(steps[20:])
        cuts = statistics.quantiles(ages, n=100)
        sys.stdout.write(
            f"{name:15} median {cuts[49]:5.1f} ms, 95 % within {cuts[94]:5.1f} ms, "
            f"99 % within {cuts[98]:5.1f} ms\n"
        )
    frames = len(noted["frames"]) / seconds
    sys.stdout.write(f"frames          {frames:.1f} a second (reach: 20; 95 % within 80 ms)\n")


if __name__ == "__main__":
    painted() if "--child" in sys.argv else main()
