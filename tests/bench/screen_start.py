"""Start to first paint: the bend screen, ``watch`` with and without a job, and bare Textual.

    python tests/bench/screen_start.py

Timed from starting the process to the first frame with its own text in it, in a terminal of 80 by
24. Rounds alternate; the medians are compared, and the least of each, which other programs' work
disturbs least. A first round, not counted, leaves everybody's compiled modules in a folder of the
run's own, as an installed program has them. Reach: 1.5 times.
"""

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from in_a_terminal import run

HERE = Path(__file__).parent
ROUNDS = 7
REST_S = 1.5
"""A program left in its first second has a bench process behind it that still ends."""
JOB = "cold-frame-rib"
BARE = (
    "from textual.app import App\n"
    "from textual.widgets import Static\n"
    "class Bare(App):\n"
    "    BINDINGS = [('q', 'quit', 'quit')]\n"
    "    def compose(self):\n"
    f"        yield Static('{JOB}')\n"
    "Bare().run()\n"
)
SCREEN = (
    "import sys\n"
    "from benchmate.screen.app import BenchApp\n"
    "BenchApp([], lambda job: None, lambda job, bend: [sys.executable, sys.argv[1]],"
    f" job='{JOB}', cautions=False).run()\n"
)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = str(Path(folder) / "bends.db")
        os.environ["PYTHONPYCACHEPREFIX"] = str(Path(folder) / "compiled")
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        watch = [sys.executable, "-m", "benchmate", "--store", store, "watch", "--simulate"]
        programs = {
            "bare Textual": [sys.executable, "-c", BARE],
            "bend screen": [sys.executable, "-c", SCREEN, str(HERE / "ramp.py")],
            "benchmate watch": [*watch, JOB],
            "list of jobs": watch,
        }
        found: dict[str, list[float]] = {name: [] for name in programs}
        for at in range(1 + ROUNDS):
            for name, argv in programs.items():
                marker = b"benchmate advises" if argv[: len(watch)] == watch else JOB.encode()
                took, painted = run(argv, 20.0, lambda text, marker=marker: marker in text)
                if marker not in painted:
                    raise SystemExit(f"{name} painted nothing in 20 s: {painted[-300:]!r}")
                if at:
                    found[name].append(took)
                time.sleep(REST_S)
    bare = found["bare Textual"]
    for name, times in found.items():
        line = [f"{name:16}"]
        for word, of in (("median", statistics.median), ("least", min)):
            line.append(f"{word} {of(times):6.3f} s, {of(times) / of(bare):5.2f} x bare")
        sys.stdout.write("  ".join(line) + "\n")
    sys.stdout.write("reach: at most 1.5 x bare\n")


if __name__ == "__main__":
    main()
