"""Draw bend-screen.svg and part.svg anew: a rehearsed bend under way, and the part before it.

python docs/pictures/bend_screen.py
"""

import asyncio
import re
import sys
import tempfile
from pathlib import Path

from benchmate.runtime.planning import planned
from benchmate.screen.app import BenchApp
from benchmate.screen.pages.plan_lines import Laid
from benchmate.shop import Shop

HERE = Path(__file__).parent
CONFIGS = HERE.parents[1] / "configs"
JOB = "cold-frame-rib"


async def draw(app: BenchApp) -> dict[str, str]:
    """Let the rehearsal run into the second bend, close to its stop, and give the pictures."""
    pictures = {}
    async with app.run_test(size=(100, 30)) as pilot:
        while not before_the_second(app):
            await pilot.pause(0.05)
        await pilot.press("v")
        await pilot.pause()
        pictures["part.svg"] = app.export_screenshot(title="benchmate")
        await pilot.press("v")
        while not worth_a_picture(app):
            await pilot.pause(0.05)
        pictures["bend-screen.svg"] = app.export_screenshot(title="benchmate")
        app.exit(0)
    return pictures


def before_the_second(app: BenchApp) -> bool:
    """Say whether a bend is done and the next not yet under load."""
    target = app.state.target
    return target is not None and target.bend == 2 and not app.state.mid_hit


def worth_a_picture(app: BenchApp) -> bool:
    """Say whether a bend is done, another near its stop, and the angle known."""
    state, now = app.state, app.clock.now()
    to_go = state.to_go()
    return (
        state.target is not None
        and state.target.bend == 2
        and state.cue(now) == "slow"
        and to_go is not None
        and 0.5 < to_go < 3.0
    )


def main() -> None:
    """Write the pictures beside this file."""
    shop = Shop.open(CONFIGS)
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "bends.db"

        def start(job: str, bend: int) -> list[str]:
            program = [sys.executable, "-m", "benchmate", "--shop", str(CONFIGS)]
            asked = ["--store", str(store), "watch", job, "--bend", str(bend)]
            return [*program, *asked, "--simulate", "--operator", "--plain"]

        app = BenchApp(
            [JOB],
            lambda job: Laid(planned(shop, job, store)),
            start,
            job=JOB,
            rehearsal=True,
            by_hand=False,
            cautions=False,
        )
        pictures = asyncio.run(draw(app))
        if app.bench is not None:
            app.bench.hang_up()
    for name, picture in pictures.items():
        # Whoever opens the picture shall fetch nothing: fonts are the viewer's own.
        bare = re.sub(r"@font-face \{.*?\}", "", picture, flags=re.DOTALL)
        # Some viewers drop the spaces at the start of a text that isn't told to keep them.
        kept = bare.replace("<svg ", '<svg xml:space="preserve" ', 1)
        (HERE / name).write_text(kept, encoding="utf-8")


if __name__ == "__main__":
    main()
