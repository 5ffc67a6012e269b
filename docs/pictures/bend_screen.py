"""Draw the pictures of the screens anew: a bend under way, its verdict, and the part before it.

python docs/pictures/bend_screen.py

A scripted arm stands for the bench, so that the pictures come out alike each time. They show the
panel alone, as cells: no window, and no font that would have to be fetched.
"""

import asyncio
import io
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from rich.console import Console

from benchmate.runtime.planning import laid_out
from benchmate.screen.app import BenchApp
from benchmate.screen.client import Bench, Happening, Started
from benchmate.screen.pages.plan_lines import Laid
from benchmate.shop import Shop
from benchmate.stream import Peak, Reading, Rest, Target, Verdict

HERE = Path(__file__).parent
CONFIGS = HERE.parents[1] / "configs"
JOB = "cold-frame-rib"
SIZE = (100, 30)
PANEL = """\
<svg xmlns="http://www.w3.org/2000/svg" xml:space="preserve" viewBox="0 0 {terminal_width} \
{terminal_height}">
<style>
.{unique_id}-matrix {{ font-family: "DejaVu Sans Mono", "Liberation Mono", Menlo, Consolas, \
monospace; font-size: {char_height}px; line-height: {line_height}px; }}
{styles}
</style>
<rect width="100%" height="100%" fill="#0f1214"/>
<clipPath id="{unique_id}-clip-terminal">
<rect width="{terminal_width}" height="{terminal_height}"/>
</clipPath>
<defs>{lines}</defs>
<g clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">{matrix}</g>
</g>
</svg>
"""


class StandingClock:
    """Stands still, so that no reading grows old while it is drawn."""

    def now(self) -> float:
        """Give always the same time."""
        return 100.0

    def sleep(self, seconds: float) -> None:
        """Wait for nothing."""


class ScriptedBench:
    """Says what the script says."""

    def __init__(self) -> None:
        self.say: Callable[[Happening], None] = lambda _happening: None
        self.box: Reading | None = None
        self.up = False

    def open(self, _argv: Callable[[], Sequence[str]], say: Callable[[Happening], None]) -> Bench:
        """Take who is told what happens."""
        self.say = say
        return self

    def start(self) -> None:
        """Be there."""
        self.up = True
        self.say(Started(again=False))

    def latest(self) -> Reading | None:
        """Give the reading that the script is at."""
        return self.box

    def send(self, command: str) -> None:
        """Take no command."""

    def hang_up(self) -> None:
        """End."""


def panel(app: BenchApp) -> str:
    """Give the screen as a picture of its cells."""
    width, height = app.size
    console = Console(
        width=width,
        height=height,
        file=io.StringIO(),
        force_terminal=True,
        color_system="truecolor",
        record=True,
        legacy_windows=False,
        safe_box=False,
    )
    shown = app.screen._compositor.render_update(full=True)
    console.print(shown)
    return console.export_svg(title="", code_format=PANEL, unique_id="panel")


async def draw(app: BenchApp, bench: ScriptedBench) -> dict[str, str]:
    """Give the pictures, by file name."""
    pictures = {}
    async with app.run_test(size=SIZE) as pilot:
        while not (bench.up and app.state.planned):
            await pilot.pause()

        async def read(arm: float, t: float, **more: object) -> None:
            known = {"rate": 5.0, "sd": 0.04, "to_go": 50.1 - arm, "phase": "bending"}
            bench.box = Reading(t=t, arm=arm, **{**known, "cue": "pump", **more})
            app.pulled(bench.box)
            await pilot.pause()

        def target(bend: int, **more: object) -> None:
            marks = {1: 565.0, 2: 820.0, 3: 1075.0}
            known = {"hit": 1, "bend_angle": 49.4, "stop_angle": 51.3, "sd": 0.35, "bends": 3}
            kept = {"tolerance": 0.5, "over_angle": 52.2, "mark": marks[bend], "turn": 0.0}
            bench.say(Target(**{**known, **kept, "bend": bend, **more}))

        target(1)
        bench.say(Peak(arm=51.4))
        bench.say(Rest(arm=49.5, springback=1.9))
        bench.say(Verdict(say="accept", bend_angle=49.2, sd=0.12, bend=1, hits=1))
        target(2)
        await read(0.0, 1.0, phase="zeroing", cue="wait")
        await pilot.press("v")
        await pilot.pause()
        pictures["part.svg"] = panel(app)
        await pilot.press("v")
        for at in range(50):
            await read(49.6 * at / 50, 2.0 + 0.2 * at, to_go=51.3 - 49.6 * at / 50)
        await read(49.6, 13.0, to_go=1.7, cue="slow", strokes=2.0)
        await pilot.pause()
        pictures["bend-screen.svg"] = panel(app)
        bench.say(Peak(arm=50.8))
        bench.say(Rest(arm=48.9, springback=1.9))
        short = Verdict(say="again", bend_angle=48.6, sd=0.1, stop_angle=51.7, bend=2, hits=1)
        bench.say(short)
        await read(48.9, 16.0, phase="logged", cue="wait")
        await pilot.pause()
        pictures["verdict.svg"] = panel(app)
        app.exit(0)
    return pictures


def planned(job: str) -> Laid:
    """Lay the job out as on a bench that has bent nothing."""
    with tempfile.TemporaryDirectory() as folder:
        return Laid(laid_out(Shop.open(CONFIGS), job, Path(folder) / "bends.db", "mm")[0])


def main() -> None:
    """Write the pictures beside this file."""
    bench = ScriptedBench()
    app = BenchApp(
        [JOB],
        planned,
        lambda _job, _bend: [],
        job=JOB,
        rehearsal=True,
        by_hand=False,
        cautions=False,
        open_bench=bench.open,
        clock=StandingClock(),
    )
    for name, picture in asyncio.run(draw(app, bench)).items():
        (HERE / name).write_text(picture, encoding="utf-8")


if __name__ == "__main__":
    main()
