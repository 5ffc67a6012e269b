"""Processor time of the bend screen at full rate, against a bare Textual program's.

    python tests/bench/screen_cost.py [SECONDS]

Both run in a terminal of 80 by 24 and repaint as many cells 30 times a second; the bare one also
measures itself (bare_textual.py). Rounds alternate; the median of each is compared. Reach: 2 times.
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path

from in_a_terminal import run

HERE = Path(__file__).parent
ROUNDS = 3


def painted() -> None:
    """Run the bend screen on a ramp; be the child process of a round."""
    from benchmate.screen.app import BenchApp

    seconds, file = float(sys.argv[2]), Path(sys.argv[3])
    used = 0.0
    app = BenchApp(
        ["ramp"],
        lambda _job: None,
        lambda _job, _bend: [sys.executable, str(HERE / "ramp.py")],
        job="ramp",
        rehearsal=True,
        cautions=False,
    )

    def begin() -> None:
        nonlocal used
        used = time.process_time()

    def finish() -> None:
        file.write_text(str(time.process_time() - used))
        app.exit(0)

    def ready() -> None:
        app.set_timer(1.0, begin)
        app.set_timer(1.0 + seconds, finish)

    app.call_later(ready)
    app.run()


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 8.0
    found: dict[str, list[float]] = {"bare": [], "bend screen": []}
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "used"
        for _ in range(ROUNDS):
            for name, argv in {
                "bare": [sys.executable, str(HERE / "bare_textual.py"), str(seconds), str(file)],
                "bend screen": [sys.executable, __file__, "--child", str(seconds), str(file)],
            }.items():
                run(argv, seconds + 20.0)
                found[name].append(float(file.read_text()) / seconds)
    for name, parts in found.items():
        sys.stdout.write(
            f"{name:12} {100 * statistics.median(parts):5.1f} % of one core "
            f"({', '.join(f'{100 * part:.1f}' for part in parts)})\n"
        )
    ratio = statistics.median(found["bend screen"]) / statistics.median(found["bare"])
    sys.stdout.write(f"ratio        {ratio:5.2f} (reach: at most 2)\n")


if __name__ == "__main__":
    painted() if "--child" in sys.argv else main()
