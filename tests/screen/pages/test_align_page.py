import pytest
from textual.widgets._footer import FooterKey

from benchmate.screen.client import Ended
from benchmate.screen.instrument.widgets import Lines
from benchmate.screen.pages.align_page import AlignApp
from benchmate.stream import Aligned, Fault


@pytest.fixture
def app(bench, clock):
    return AlignApp(lambda: ["bench", "align"], rehearsal=True, open_bench=bench.open, clock=clock)


def text(app, part):
    widget = app.screen.query_one(f"#{part}", Lines)
    return "\n".join(widget.render_line(y).text.rstrip() for y in range(widget.size.height))


def joined(app):
    return " ".join(text(app, "page").split())


def footer(app):
    return "  ".join(f"{key.key_display} {key.description}" for key in app.screen.query(FooterKey))


async def started(pilot, bench):
    """Wait until the bench runs."""
    while not bench.starts:
        await pilot.pause()
    await pilot.pause()


async def test_enter_begins_and_ends_the_swing_and_closes(app, bench, say):
    async with app.run_test(size=(80, 24)) as pilot:
        await started(pilot, bench)
        assert "SIMULATED" in text(app, "header")
        assert "Enter begin" in footer(app)
        await pilot.press("enter")
        for at, arm in enumerate((1.0, 60.0, 95.5, 20.0)):
            app.pulled(say.reading(arm, t=float(at)))
        assert "swept 94.5 degrees" in text(app, "page")
        await pilot.press("enter")
        assert bench.sent == ["begin", "end"]
        await pilot.press("enter")
        assert bench.sent == ["begin", "end"]
        bench.say(Aligned(residual_deg=0.05, leverage=0.97))
        bench.say(Ended(0, "", again=False))
        await pilot.pause()
        assert (
            "Kept. The swing fits to 0.05 degrees, 97 % of gravity turns with the arm."
            in joined(app)
        )
        await pilot.press("enter")
    assert app.return_value == 0


async def test_a_turn_counts_its_stops_and_takes_their_true_angles(bench, clock, say):
    app = AlignApp(lambda: ["bench"], turn=True, open_bench=bench.open, clock=clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await started(pilot, bench)
        await pilot.press("enter")
        app.pulled(say.reading(120.0, t=1.0, stops=5, coverage=118.0))
        assert "5 still stops found, covering 118 degrees" in text(app, "page")
        await pilot.press("m")
        await pilot.pause()
        await pilot.press("4", "5", "enter")
        await pilot.pause()
        assert bench.sent == ["begin", "measured 45"]


async def test_a_swing_has_no_stops_to_measure(app, bench):
    async with app.run_test(size=(80, 24)) as pilot:
        await started(pilot, bench)
        await pilot.press("m", "4", "5", "enter")
        assert bench.sent == ["begin"]


async def test_a_swing_that_fails_says_why_and_ends_with_one(app, bench):
    async with app.run_test(size=(80, 24)) as pilot:
        await started(pilot, bench)
        bench.say(Fault(what="alignment", detail="the pivot stands too near to vertical"))
        bench.say(Ended(1, "benchmate: the pivot stands too near to vertical", again=False))
        await pilot.pause()
        assert "too near to vertical" in text(app, "page")
        assert "what was known before still holds" in text(app, "page")
        await pilot.press("q")
    assert app.return_value == 1


async def test_without_readings_it_says_so(app, bench, clock, say):
    async with app.run_test(size=(80, 24)) as pilot:
        await started(pilot, bench)
        app.pulled(say.reading(10.0))
        await pilot.pause()
        assert "no reading" not in text(app, "page")
        clock.sleep(0.5)
        app.pulled(say.reading(10.0))
        assert "no reading" in text(app, "page")


async def test_leaving_before_the_end_closes_the_benchs_input(app, bench):
    async with app.run_test(size=(40, 10)) as pilot:
        await started(pilot, bench)
        await pilot.press("q")
        assert bench.hung_up
        bench.say(Ended(0, "", again=False))
        await pilot.pause()
    assert app.return_value == 1


async def test_after_a_failure_enter_begins_anew_and_a_good_one_ends_with_nought(app, bench):
    async with app.run_test(size=(80, 24)) as pilot:
        await started(pilot, bench)
        bench.say(Ended(1, "gone", again=False))
        await pilot.pause()
        assert "Enter try again" in footer(app)
        await pilot.press("enter")
        await pilot.pause()
        assert len(bench.starts) == 2
        assert "Enter begin" in footer(app)
        await pilot.press("enter", "enter")
        assert bench.sent == ["begin", "end"]
        bench.say(Aligned(residual_deg=0.05, leverage=0.97))
        bench.say(Ended(0, "", again=False))
        await pilot.pause()
        assert "Enter close" in footer(app)
        await pilot.press("enter")
    assert app.return_value == 0


async def test_what_it_is_good_for_and_what_to_do_about_it_stand_before_the_figures(app, bench):
    async with app.run_test(size=(80, 24)) as pilot:
        await started(pilot, bench)
        await pilot.press("enter", "enter")
        cure = "The lsm6dso was never calibrated: turn its box round once."
        bench.say(
            Aligned(residual_deg=0.05, leverage=0.97, sd=1.1, arc_deg=120.0, warnings=(cure,))
        )
        await pilot.pause()
        page = joined(app)
        good = "Kept: the arm angle is good to 2.20 degrees over 120 degrees of bending."
        assert page.index(good) < page.index(cure) < page.index("The swing fits to 0.05 degrees")


async def test_an_encoder_is_held_against_the_chip_beside_it(bench, clock, say):
    app = AlignApp(
        lambda: ["bench"], turn=True, against="adxl355", open_bench=bench.open, clock=clock
    )
    async with app.run_test(size=(80, 24)) as pilot:
        await started(pilot, bench)
        assert "Calibrate the encoder: against the adxl355" in text(app, "header")
        assert "adxl355's box clamped" in text(app, "page")
        await pilot.press("enter")
        app.pulled(say.reading(120.0, t=1.0, stops=5, coverage=118.0))
        assert "Take the arm through its whole way" in text(app, "page")
        assert "5 still stops found" in text(app, "page")
        await pilot.press("m", "4", "5")
        assert "encoder)" not in footer(app)
        await pilot.press("enter")
        assert bench.sent == ["begin", "end"]
        bench.say(Ended(1, "gone", again=False))
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert app.state.against == "adxl355"
