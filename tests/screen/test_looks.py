"""Whole screens, compared with pictures that were looked at when they were accepted."""

import pytest

from benchmate.screen.app import BenchApp
from benchmate.screen.instrument.widgets import Lines
from benchmate.screen.pages.align_page import AlignApp
from benchmate.stream import Aligned, Fault, Peak, Rest


@pytest.fixture(autouse=True)
def same_everywhere(monkeypatch):
    """No animation, and the theme of a terminal with all colours, whatever runs the tests."""
    monkeypatch.setenv("TEXTUAL_ANIMATIONS", "none")
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("TEXTUAL_THEME", raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)


@pytest.fixture
def app(bench, clock, laid):
    def made(**options):
        return BenchApp(
            **{
                "jobs": ["gate-frame", "trellis-arch"],
                "plan_of": lambda _job: laid,
                "start": lambda job, bend: [job, str(bend)],
                "job": "gate-frame",
                "rehearsal": True,
                "cautions": False,
                "open_bench": bench.open,
                "clock": clock,
                **options,
            }
        )

    return made


@pytest.fixture
def bending(bench, say, clock):
    """The second hit of the first bend, close to its stop."""

    async def script(pilot):
        while not (bench.starts and pilot.app.state.planned):
            await pilot.pause()
        bench.say(say.target(stop_angle=92.6))
        await pilot.pause()
        for at in range(60):
            arm = 92.6 * at / 59
            pilot.app.pulled(say.reading(arm, t=at * 0.2, to_go=92.6 - arm))
        for event in (
            Peak(arm=92.7),
            Rest(arm=89.1, springback=3.6),
            say.verdict("again", bend_angle=89.0, stop_angle=93.5),
            say.target(hit=2, sd=0.21, stop_angle=93.5),
        ):
            bench.say(event)
        await pilot.pause()
        near = say.reading(92.1, t=14.0, to_go=1.4, cue="slow", strokes=2.0)
        bench.box = near
        pilot.app.pulled(near)
        await pilot.pause()

    return script


@pytest.fixture
def judged(bending, bench, say):
    """The bend came back short: press again."""

    async def script(pilot):
        await bending(pilot)
        for event in (Peak(arm=92.7), Rest(arm=89.4, springback=3.3)):
            bench.say(event)
        bench.say(say.verdict("again", bend_angle=89.4, stop_angle=94.1, hits=2))
        resting = say.reading(89.4, t=16.0, to_go=4.1, phase="logged", cue="wait")
        bench.box = resting
        pilot.app.pulled(resting)
        await pilot.pause()

    return script


SIZES = [(50, 15), (80, 24), (100, 30), (160, 50)]


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_a_bend_to_be_pressed_again(app, judged, snap_compare, size):
    assert snap_compare(app(), terminal_size=size, run_before=judged)


@pytest.mark.parametrize(
    "size", [(40, 10), (50, 15), (100, 30)], ids=lambda size: f"{size[0]}x{size[1]}"
)
def test_a_bend_close_to_its_stop(app, bending, snap_compare, size):
    assert snap_compare(app(), terminal_size=size, run_before=bending)


@pytest.fixture
def stopped(bending, bench, say):
    """At the stop."""

    async def script(pilot):
        await bending(pilot)
        stop = say.reading(93.5, t=15.0, to_go=0.0, cue="stop")
        bench.box = stop
        pilot.app.pulled(stop)
        await pilot.pause()

    return script


def test_at_the_stop_in_the_consoles_eight_colours(app, stopped, snap_compare, monkeypatch):
    monkeypatch.setenv("TERM", "linux")
    assert snap_compare(app(), terminal_size=(80, 24), run_before=stopped)


def test_at_the_stop_without_colour(app, stopped, snap_compare, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    assert snap_compare(app(), terminal_size=(80, 24), run_before=stopped)


def test_by_day(app, judged, snap_compare):
    async def by_day(pilot):
        await judged(pilot)
        await pilot.press("l")
        await pilot.pause()

    assert snap_compare(app(), terminal_size=(80, 24), run_before=by_day)


def test_the_measured_angle_is_asked_for(app, bending, bench, say, snap_compare):
    async def asked(pilot):
        await bending(pilot)
        bench.say(say.verdict("measure", bend_angle=88.3, sd=0.65, hits=2))
        await pilot.pause()
        await pilot.press("enter", "up")
        await pilot.pause()

    assert snap_compare(app(), terminal_size=(50, 15), run_before=asked)


def test_the_angle_is_lost(app, bending, bench, snap_compare):
    async def lost(pilot):
        await bending(pilot)
        bench.say(Fault(what="bus", detail="no answer at 0x6a on bus 1"))
        await pilot.pause()

    assert snap_compare(app(), terminal_size=(80, 24), run_before=lost)


def test_jobs_and_the_plan_of_one(app, snap_compare):
    async def planned(pilot):
        await pilot.pause()
        plan = pilot.app.screen.query_one("#plan", Lines)
        while not plan.render_line(0).text.strip():
            await pilot.pause(0.01)

    assert snap_compare(app(job=None), terminal_size=(80, 24), run_before=planned)


def test_the_part_as_bent_so_far_over_as_planned(app, bench, say, snap_compare):
    async def drawn(pilot):
        while not (bench.starts and pilot.app.state.planned):
            await pilot.pause()
        bench.say(say.target(mark=238.0, turn=0.0))
        bench.say(say.verdict(bend_angle=90.1))
        bench.say(say.target(bend=2, bend_angle=45.0, mark=554.6, turn=90.0))
        await pilot.press("v")
        await pilot.pause()

    assert snap_compare(app(), terminal_size=(80, 24), run_before=drawn)


def test_a_swing_that_was_kept(bench, clock, say, snap_compare):
    async def kept(pilot):
        while not bench.starts:
            await pilot.pause()
        await pilot.pause()
        await pilot.press("enter")
        for at in range(30):
            pilot.app.pulled(say.reading(3.3 * at, t=at * 0.1))
        await pilot.press("enter")
        bench.say(Aligned(residual_deg=0.05, leverage=0.97))
        await pilot.pause()

    program = AlignApp(lambda: ["align"], open_bench=bench.open, clock=clock)
    assert snap_compare(program, terminal_size=(80, 24), run_before=kept)
