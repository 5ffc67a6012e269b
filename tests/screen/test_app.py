from contextlib import asynccontextmanager
from dataclasses import replace

import pytest
from textual.widgets import Input, Label, ListView
from textual.widgets._footer import FooterKey

from benchmate.errors import Refusal
from benchmate.screen.app import BenchApp
from benchmate.screen.client import Ended
from benchmate.screen.instrument.widgets import BigNumber, Lines
from benchmate.screen.pages.bend_page import BendPage
from benchmate.screen.pages.job_page import JobPage
from benchmate.screen.pages.part_page import PartPage
from benchmate.screen.pages.text_page import TextPage
from benchmate.screen.remembered import Remembered
from benchmate.stream import Done, Fault, Foot, Peak, Unfinished

SIZE = (80, 24)


@pytest.fixture
def app(bench, clock):
    """A program on one job, its bench in the test's hands."""

    def made(**options):
        return BenchApp(
            **{
                "jobs": ["cold-frame-rib", "gate-frame"],
                "plan_of": lambda _job: None,
                "start": lambda job, bend: ["bench", job, str(bend)],
                "job": "gate-frame",
                "rehearsal": True,
                "cautions": False,
                "open_bench": bench.open,
                "clock": clock,
                **options,
            }
        )

    return made


def text(app, part):
    widget = app.screen.query_one(f"#{part}", Lines)
    return "\n".join(widget.render_line(y).text.rstrip() for y in range(widget.size.height))


def footer(app):
    return "  ".join(f"{key.key_display} {key.description}" for key in app.screen.query(FooterKey))


def told(app):
    """What is said under and beside the numbers."""
    return " ".join(f"{text(app, 'told')} {text(app, 'side')}".split())


async def plan_drawn(app, pilot):
    """Wait for the plan of the job picked, and give it."""
    while not text(app, "plan").strip():
        await pilot.pause(0.01)
    return text(app, "plan")


def picture(app, part):
    """The cells of a large number, # where they are lit."""
    widget = app.screen.query_one(f"#{part}", BigNumber)
    rows = []
    for y in range(widget.size.height):
        cells = ""
        for segment in widget.render_line(y):
            lit = segment.style is not None and segment.style.reverse
            cells += "#" * len(segment.text) if lit else segment.text
        rows.append(cells.rstrip())
    return rows


@asynccontextmanager
async def up(app, bench, size=SIZE):
    """The program in a terminal without a screen, its bench started."""
    async with app.run_test(size=size) as pilot:
        while not bench.starts:
            await pilot.pause()
        yield pilot


async def feed(app, pilot, bench, reading):
    """Put a reading in the box and let the screen pull it."""
    bench.box = reading
    app.pulled(bench.latest())
    await pilot.pause()


async def test_enter_alone_goes_through_the_whole_loop(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        assert bench.starts == [["bench", "gate-frame", "1"]]
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="zeroing", cue="wait"))
        assert "Enter set zero" in footer(program)
        await pilot.press("enter")
        assert bench.sent == ["zero"]
        await feed(program, pilot, bench, say.reading(50.0, t=2.0))
        await pilot.press("enter")
        assert bench.sent == ["zero"]
        bench.say(say.verdict("again", stop_angle=94.0))
        await pilot.pause()
        assert "Enter press again" in footer(program)
        await pilot.press("space")
        assert bench.sent == ["zero", "next"]
        bench.say(say.target(hit=2))
        bench.say(say.verdict("accept", hits=2))
        await pilot.pause()
        assert "Enter next bend" in footer(program)
        await pilot.press("enter")
        assert bench.sent == ["zero", "next", "next"]


async def test_a_letter_sends_its_command(app, bench, say):
    program = app(bites=True)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="ready"))
        await pilot.press("s", "u", "p")
        await feed(program, pilot, bench, say.reading(40.0, t=2.0))
        await pilot.press("b", "r")
        bench.say(say.verdict())
        await pilot.pause()
        await pilot.press("a")
        assert bench.sent == ["skip", "undo", "pump", "bite", "release", "again"]


async def test_a_key_that_is_not_for_now_sends_nothing_and_says_so(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target(mark=254.0))
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="ready"))
        for key in "akmnt":
            await pilot.press(key)
            assert f"{key} is for after a hit: bend first." in told(program)
            assert isinstance(program.screen, BendPage)
        await pilot.press("enter")
        assert "Nothing to press: pump." in told(program)
        await feed(program, pilot, bench, say.reading(40.0, t=2.0))
        await pilot.press("s")
        assert text(program, "told").strip() == "s is for between hits: release first."
        assert bench.sent == []


async def test_before_the_bench_is_up_enter_says_that_it_is_too_early(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        await pilot.press("enter")
        assert "Not yet: the bench is starting." in told(program)
        bench.say(say.target())
        await pilot.press("enter")
        assert "Not yet: the sensor is starting." in told(program)
        assert bench.sent == []


async def test_a_bend_to_be_measured_is_entered_by_enter_alone(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        bench.say(say.verdict("measure", bend_angle=30.3, sd=0.65))
        await pilot.pause()
        assert "About 30.3°, give or take 1.3: the arm can't tell closer." in told(program)
        assert "Enter enter measured angle  n go on unmeasured" in footer(program)
        await pilot.press("enter", "enter")
        await pilot.pause()
        assert bench.sent == ["measured 30.3"]


async def test_a_run_left_unfinished_is_gone_on_with_by_enter_or_left_by_n(app, bench):
    program = app()
    left = Unfinished(run="r", bend=2, hits=1, arm=86.0, hours=0.4, job_changed=False)
    async with up(program, bench) as pilot:
        bench.say(left)
        await pilot.pause()
        assert "Bend 2, hit 1 done, the tube stood at 86.0°." in told(program)
        assert footer(program).startswith("Enter go on  n new part")
        await pilot.press("n", "enter")
        assert bench.sent == ["new", "go_on"]


async def test_a_number_that_the_bench_doubts_is_insisted_on_by_one_key(app, bench, say):
    program = app()
    doubt = Fault(what="command", detail="the tube can't be bent to 8.6 degrees")
    async with up(program, bench) as pilot:
        bench.say(say.target())
        bench.say(say.verdict("measure"))
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("8", "full_stop", "6", "enter")
        await pilot.pause()
        bench.say(doubt)
        await pilot.pause()
        assert "can't be bent to 8.6 degrees" in told(program)
        assert "y 8.6 is right" in footer(program)
        await pilot.press("y")
        assert bench.sent == ["measured 8.6", "measured 8.6!"]


async def test_going_on_unmeasured_takes_another_key(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        bench.say(say.verdict())
        await pilot.pause()
        await pilot.press("n")
        assert bench.sent == []
        bench.say(say.verdict("measure"))
        await pilot.pause()
        await pilot.press("n")
        assert bench.sent == ["next"]


async def test_a_real_bench_is_never_told_to_pump_or_to_release(app, bench):
    async with up(app(rehearsal=False), bench) as pilot:
        await pilot.press("p", "r")
        assert bench.sent == []


async def test_the_turn_as_made_and_the_mark_as_it_is_are_typed_and_sent_in_mm(app, bench, say):
    program = app(unit_of=lambda _job: "in")
    async with up(program, bench) as pilot:

        async def typed(key, line):
            await pilot.press(key)
            await pilot.pause()
            program.screen.query_one(Input).value = line
            await pilot.press("enter")
            await pilot.pause()

        bench.say(say.target(mark=235.0, turn=90.0))
        bench.say(say.verdict())
        await typed("t", "-89.5")
        await typed("k", "12-3/4")
        await typed("k", "6 1/2")
        await typed("k", "305mm")
        await typed("k", "12,75")
        sent = ["turned -89.5", "marked 323.85", "marked 165.10", "marked 305.00", "marked 323.85"]
        assert bench.sent == sent
        await typed("k", "3x")
        assert "No length: write 12-3/4 in or 305 mm." in str(
            program.screen.query_one("#refused", Label).render()
        )
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(program.screen, BendPage)
        assert bench.sent == sent


async def test_what_was_taken_down_is_echoed(app, bench, say):
    program = app(unit_of=lambda _job: "frac")
    async with up(program, bench) as pilot:
        bench.say(say.target(mark=304.8, turn=0.0))
        bench.say(say.verdict())
        bench.say(say.verdict(taken="marked 323.85"))
        await pilot.pause()
        assert "Mark taken as 12-3/4 in (was 12 in). Bent to 89.8°" in told(program)


async def test_after_an_undo_what_was_taken_back_is_said_and_the_list_forgets_it(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        bench.say(say.verdict(bend_angle=91.0))
        bench.say(say.target(bend=2, bend_angle=44.1))
        await pilot.pause()
        assert "44.1" in text(program, "side")
        bench.say(say.target(undone="Taken back: hit 1; hit 1 of bend 1 is to be made."))
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="ready"))
        assert "Taken back: hit 1; hit 1 of bend 1 is to be made." in told(program)
        assert "44.1" not in text(program, "side")
        assert "91.0" not in text(program, "side")


async def test_what_planning_anew_changed_is_shown_when_asked(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        await pilot.press("c")
        assert isinstance(program.screen, BendPage)
        bench.say(say.target(bend=2, changed=("bend 2: mark 990.6 mm becomes 995.1 mm",)))
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="zeroing", cue="wait"))
        assert "c changes" in footer(program)
        assert "worked out again" in told(program)
        await pilot.press("c")
        assert "mark 990.6 mm becomes 995.1 mm" in text(program, "page")
        await pilot.press("enter")
        assert isinstance(program.screen, BendPage)


async def test_while_an_angle_is_entered_no_key_is_a_command(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target(mark=254.0))
        bench.say(say.verdict())
        for opens in "mk":
            await pilot.press(opens)
            await pilot.pause()
            await pilot.press("a", "s", "u")
            await pilot.press("escape")
            await pilot.pause()
        assert bench.sent == []
        assert "Nothing entered." in told(program)
        await pilot.press("a")
        assert bench.sent == ["again"]


async def test_on_the_smallest_panel_arm_and_stop_are_both_digits(app, bench, say):
    program = app()
    async with up(program, bench, (40, 10)) as pilot:
        bench.say(say.target(stop_angle=123.4, over_angle=125.0))
        await feed(program, pilot, bench, say.reading(118.2, t=1.0, to_go=5.2))
        for part in ("number", "stop-beside"):
            assert sum(row.count("#") for row in picture(program, part)) > 20
        assert text(program, "told").startswith(" ARM, to go 5.4")
        assert text(program, "told").endswith("STOP AT")


async def test_the_live_angle_is_drawn_in_lit_cells(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(91.1, t=1.0, to_go=2.3))
        assert any("#" in row for row in picture(program, "left"))
        live = picture(program, "number")
        assert sum(row.count("#") for row in live) > 100
        await feed(program, pilot, bench, say.reading(91.12, t=1.1, to_go=2.28))
        assert picture(program, "number") == live
        await feed(program, pilot, bench, say.reading(91.3, t=1.2, to_go=2.1))
        assert picture(program, "number") != live


async def test_a_reading_that_stops_coming_turns_into_dashes(app, bench, clock, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(50.0, t=1.0))
        live = picture(program, "number")
        clock.sleep(0.4)
        program.pulled(bench.latest())
        await pilot.pause()
        dashes = picture(program, "number")
        assert dashes != live
        assert {row.count("#") for row in dashes[:3]} == {0}


async def test_a_fault_blanks_the_angle_and_is_said_in_words(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(50.0, t=1.0))
        bench.say(Fault(what="bus", detail="no answer at 0x6a"))
        await pilot.pause()
        assert "The angle is lost. Stop pumping." in told(program)
        assert {row.count("#") for row in picture(program, "number")[:3]} == {0}


async def test_names_with_markup_and_escapes_are_shown_as_they_are(app, bench, say):
    program = app(job="[bold red]x[/]\x1b[2J")
    async with up(program, bench) as pilot:
        bench.say(say.target(advice="[link=evil]here[/link]"))
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="ready"))
        assert "[bold red]x[/]\\x1b[2J" in text(program, "header")
        assert "[link=evil]here[/link]" in told(program)


async def test_quitting_idle_closes_the_benchs_input_and_ends_with_it(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await pilot.press("q")
        assert bench.hung_up
        assert program.is_running
        bench.say(Done())
        bench.say(Ended(0, "", again=False))
        await pilot.pause()
    assert program.return_value == 0


async def test_quitting_in_mid_hit_by_hand_opens_the_simulated_valve(app, bench, say):
    program = app(by_hand=True)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(50.0, t=1.0))
        await pilot.press("q")
        assert "The valve is opened" in told(program)
        assert bench.sent == ["release"]
        assert bench.hung_up


@pytest.mark.parametrize(("by_hand", "words"), [(True, "r opens the valve"), (False, "look on")])
async def test_the_first_page_says_how_a_rehearsal_goes(app, bench, by_hand, words):
    program = app(cautions=True, by_hand=by_hand)
    async with up(program, bench):
        assert words in " ".join(text(program, "page").split())


async def test_help_tells_all_of_what_is_told_now(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target(advice="Little is known of this setup yet. " * 8 + "That is all."))
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="zeroing", cue="wait"))
        await pilot.press("question_mark")
        shown = " ".join(text(program, "page").split())
        assert shown.startswith("SIMULATED Now Clamp the tube snug, without load")
        assert "That is all. Keys" in shown


async def test_a_real_bench_opens_with_the_cautions_alone(app, bench):
    program = app(cautions=True, rehearsal=False)
    async with up(program, bench):
        assert text(program, "page").startswith(" Before you pump")


async def test_quitting_in_mid_hit_says_that_the_hit_is_finished(app, bench, say):
    program = app(rehearsal=False)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(50.0, t=1.0))
        await pilot.press("q")
        assert "Finish the hit" in told(program)
        assert bench.sent == []
        await feed(program, pilot, bench, say.reading(60.0, t=2.0))
        assert any("#" in row for row in picture(program, "number"))
        bench.say(Ended(0, "", again=False))
        await pilot.pause()
    assert program.return_value == 0


async def test_leaving_says_what_was_logged_once_the_screen_has_closed(app, bench, say):
    program = app(rehearsal=False)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(50.0, t=1.0))
        await pilot.press("q")
        for event in (Peak(arm=50.1), say.verdict("again", bend_angle=47.2), say.logged()):
            bench.say(event)
        bench.say(Done())
        bench.say(Ended(0, "", again=False))
        await pilot.pause()
    assert program.last_words(at_once=False) == (
        "gate-frame: 1 bend logged. Bend 1, hit 1: 47.2 degrees, give or take 0.4: press again."
    )


async def test_where_the_page_at_the_end_has_told_it_nothing_is_said_after(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        for event in (say.target(), say.verdict(), say.logged(), Done()):
            bench.say(event)
        await pilot.pause()
        await pilot.press("enter")
    assert program.last_words(at_once=False) == ""


async def test_a_hit_that_nobody_finished_is_said_to_be_marked_so(app, bench, say):
    program = app(rehearsal=False)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(50.0, t=1.0))
        await pilot.press("q")
        for event in (say.logged(), Done(), Ended(0, "", again=False)):
            bench.say(event)
        await pilot.pause()
    assert "the hit was not finished" in program.last_words(at_once=False)
    assert "left at once" in program.last_words(at_once=True)


async def test_a_second_q_leaves_at_once(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await pilot.press("q", "q")
        await pilot.pause()
        assert not program.is_running or program.return_value == 0
    assert program.return_value == 0


async def test_a_bench_that_is_gone_is_said_and_started_again_by_enter_at_its_bend(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target(bend=2))
        bench.say(Ended(1, "no bus", again=False))
        await pilot.pause()
        assert "no bus" in told(program)
        assert "Enter start the bench again" in footer(program)
        await pilot.press("enter")
        await pilot.pause()
        assert bench.starts[-1] == ["bench", "gate-frame", "2"]
        assert "started again" in told(program)


async def test_a_bench_that_is_gone_is_not_waited_for(app, bench):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(Ended(1, "no bus", again=False))
        await pilot.pause()
        await pilot.press("q")
    assert program.return_value == 0


async def test_the_end_of_the_job_is_summed_up_and_enter_ends(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        for event in (say.target(sd=0.9), say.verdict(), say.logged(), Done()):
            bench.say(event)
        await pilot.pause()
        page = text(program, "page")
        assert "SIMULATED" in text(program, "page")
        assert "1 of 1 bend in tolerance, 1 hit." in page
        bench.say(Ended(0, "", again=False))
        await pilot.press("enter")
    assert program.return_value == 0
    assert program.state.done


async def test_cautions_come_first_and_once(app, bench):
    program = app(cautions=True)
    async with up(program, bench) as pilot:
        assert isinstance(program.screen, TextPage)
        assert "benchmate advises" in text(program, "page")
        await pilot.press("enter")
        assert isinstance(program.screen, BendPage)
        assert bench.sent == []


async def test_cautions_give_way_by_themselves_once_zero_is_taken(app, bench, clock, say):
    program = app(cautions=True)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        clock.sleep(3.0)
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="ready"))
        assert isinstance(program.screen, TextPage)
        clock.sleep(4.0)
        await feed(program, pilot, bench, say.reading(0.0, t=2.0, phase="zeroing"))
        assert isinstance(program.screen, TextPage)
        await feed(program, pilot, bench, say.reading(0.0, t=3.0, phase="ready"))
        assert isinstance(program.screen, BendPage)


async def test_help_shows_keys_and_cautions_and_goes_away(app, bench):
    program = app()
    async with up(program, bench, (80, 50)) as pilot:
        await pilot.press("question_mark")
        assert "Keep hands clear" in text(program, "page")
        assert "SIMULATED" in text(program, "page")
        await pilot.press("question_mark")
        assert isinstance(program.screen, BendPage)


async def test_a_page_longer_than_the_terminal_scrolls(app, bench):
    program = app()
    async with up(program, bench, (50, 12)) as pilot:
        await pilot.press("question_mark")
        before = text(program, "page")
        assert "\u2193 more" in footer(program)
        await pilot.press("down", "down")
        assert text(program, "page").splitlines()[0] == before.splitlines()[2]
        await pilot.press(*["up"] * 9)
        assert text(program, "page") == before


async def test_no_terminal_is_too_small_or_too_large(app, bench, say):
    program = app()
    async with up(program, bench, (1, 1)) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(50.0, t=1.0))
        for size in [(8, 3), (40, 10), (50, 15), (200, 60), (400, 120), (2, 90), (90, 2)]:
            await pilot.resize_terminal(*size)
            await feed(program, pilot, bench, say.reading(51.0, t=float(sum(size))))
        assert program.is_running


async def test_the_job_screen_picks_a_job_and_starts_it(app, bench):
    program = app(job=None)
    async with program.run_test(size=SIZE) as pilot:
        assert isinstance(program.screen, JobPage)
        assert bench.starts == []
        await pilot.press("down")
        assert program.screen.query_one(ListView).index == 1
        await pilot.press("enter")
        await pilot.pause()
        assert bench.starts == [["bench", "gate-frame", "1"]]
        assert isinstance(program.screen, BendPage)


async def test_after_a_job_the_job_screen_comes_back(app, bench, say):
    program = app(job=None)
    async with program.run_test(size=SIZE) as pilot:
        await pilot.press("enter")
        for event in (say.target(), say.verdict(), Done(), Ended(0, "", again=False)):
            bench.say(event)
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(program.screen, JobPage)
        await pilot.press("q")
    assert program.return_value == 0


async def test_the_last_words_of_an_earlier_bench_do_not_reach_the_next_job(app, bench, say):
    program = app(job=None)
    async with program.run_test(size=SIZE) as pilot:
        await pilot.press("enter")
        await pilot.pause()
        of_the_first = bench.say
        for event in (say.target(), say.verdict(), Done()):
            bench.say(event)
        await pilot.pause()
        await pilot.press("enter", "enter")
        while len(bench.starts) < 2:
            await pilot.pause()
        of_the_first(Ended(0, "", again=False))
        await pilot.pause()
        assert program.state.link == "up"
        assert program.state.bends == ()


async def test_a_job_that_cannot_be_planned_says_why(app):
    def refuse(job):
        raise Refusal(f"jobs/{job}.yaml:4: die: no die named 'x'")

    program = app(job=None, plan_of=refuse)
    async with program.run_test(size=SIZE) as pilot:
        assert "no die named 'x'" in await plan_drawn(program, pilot)


async def test_the_job_screen_shows_plan_part_and_what_is_expected(app, laid):
    program = app(job=None, plan_of=lambda _job: laid)
    async with program.run_test(size=SIZE) as pilot:
        plan = await plan_drawn(program, pilot)
        assert "! Bend 3 leaves 40 mm of straight where the die grips" in plan
        assert "19 times in 20" in plan
        assert "1 cell = " in text(program, "part")
        await pilot.press("v")
        assert isinstance(program.screen, PartPage)
        await pilot.press("v")
        assert isinstance(program.screen, JobPage)


@pytest.mark.parametrize("size", [(40, 10), (80, 24)])
async def test_all_of_a_plan_can_be_reached_by_key_and_none_is_cut(app, laid, size):
    expected = tuple(f"sentence {at} " + "word " * 30 + f"end{at}" for at in range(8))
    program = app(job=None, plan_of=lambda _job: laid._replace(expected=expected))
    async with program.run_test(size=size) as pilot:
        pages = [await plan_drawn(program, pilot)]
        while len(pages) < 2 or pages[-1] != pages[-2]:
            await pilot.press("pagedown")
            pages.append(text(program, "plan"))
        seen = "\n".join(pages)
        assert "..." not in seen
        assert "more" in footer(program)
        assert "q quit" in footer(program)
        assert all(f"end{at}." in seen for at in range(8))
        await pilot.press(*["left"] * len(pages))
        assert "e235-22x1.5" in text(program, "plan")
        await pilot.press("right", "down")
        while "e235-22x1.5" not in text(program, "plan"):
            await pilot.pause(0.01)


async def test_a_narrow_job_screen_names_the_job_picked_and_keeps_whole_numbers(app, laid):
    program = app(job=None, plan_of=lambda _job: laid)
    async with program.run_test(size=(40, 10)) as pilot:
        await plan_drawn(program, pilot)
        header = text(program, "header")
        assert header.startswith(" Jobs  1 of 2: cold-frame-rib")
        assert header.endswith("SIMULATED")
        assert "stop" in text(program, "plan")
        assert "  1      238 mm     0.0   90.0   93.4" in text(program, "plan")


async def test_one_key_shows_the_part_and_the_next_press_takes_it_away(app, bench, say, laid):
    program = app(plan_of=lambda _job: laid)
    async with up(program, bench) as pilot:
        while not program.state.planned:
            await pilot.pause()
        bench.say(say.target(mark=238.0, turn=0.0))
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="zeroing", cue="wait"))
        assert "v part" in footer(program)
        await pilot.press("v")
        assert "bend 1 of 3  mark 238 mm  no turn" in text(program, "head")
        assert "[1]" in text(program, "drawing")
        await pilot.press("right")
        assert "front" not in text(program, "drawing")
        await pilot.press("up")
        assert "front" in text(program, "drawing")
        await feed(program, pilot, bench, say.reading(3.0, t=2.0, phase="bending"))
        await pilot.pause()
        assert isinstance(program.screen, BendPage)
        await pilot.press("v")
        assert isinstance(program.screen, BendPage)
        assert "v part" not in footer(program)


async def test_a_page_read_between_hits_gives_way_when_a_hit_begins(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="ready"))
        await pilot.press("question_mark")
        assert isinstance(program.screen, TextPage)
        await feed(program, pilot, bench, say.reading(3.0, t=2.0))
        await pilot.pause()
        assert isinstance(program.screen, BendPage)
        await pilot.press("question_mark")
        await feed(program, pilot, bench, say.reading(4.0, t=3.0))
        assert isinstance(program.screen, TextPage)


async def test_a_fault_takes_the_drawing_away(app, bench, say, laid):
    program = app(plan_of=lambda _job: laid)
    async with up(program, bench) as pilot:
        while not program.state.planned:
            await pilot.pause()
        bench.say(say.target())
        await pilot.press("v")
        assert isinstance(program.screen, PartPage)
        bench.say(Fault(what="bus", detail="gone"))
        await pilot.pause()
        await pilot.pause()
        assert isinstance(program.screen, BendPage)


async def test_the_drawing_goes_on_with_the_bends(app, bench, say, laid):
    program = app(plan_of=lambda _job: laid)
    async with up(program, bench) as pilot:
        while not program.state.planned:
            await pilot.pause()
        bench.say(say.target(mark=238.0, turn=0.0))
        await pilot.press("v")
        blocks = text(program, "drawing").count("\u2588")
        bench.say(say.verdict(bend_angle=90.1))
        bench.say(say.target(bend=2, mark=554.6, turn=90.0))
        await pilot.pause()
        assert text(program, "drawing").count("\u2588") > blocks
        assert "[2]" in text(program, "drawing")


@pytest.mark.parametrize("size", [(40, 10), (20, 6), (50, 15), (200, 60)])
async def test_the_drawing_follows_any_size(app, bench, say, laid, size):
    program = app(plan_of=lambda _job: laid)
    async with up(program, bench) as pilot:
        while not program.state.planned:
            await pilot.pause()
        bench.say(say.target())
        await pilot.press("v")
        await pilot.resize_terminal(*size)
        await pilot.pause()
        await pilot.press("right", "up", "left")
        assert isinstance(program.screen, PartPage)


async def test_without_a_plan_there_is_no_drawing(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await pilot.press("v")
        assert isinstance(program.screen, BendPage)


async def test_a_shop_without_jobs_says_so(app):
    program = app(job=None, jobs=[])
    async with program.run_test(size=SIZE) as pilot:
        assert "no jobs yet" in await plan_drawn(program, pilot)
        await pilot.press("down", "enter")
        assert isinstance(program.screen, JobPage)


async def test_the_command_menu_is_off(app, bench):
    program = app()
    async with up(program, bench) as pilot:
        await pilot.press("ctrl+p")
        assert isinstance(program.screen, BendPage)


async def test_what_is_expected_stands_together_as_one_sentence_speaks_of_another(app, laid):
    expected = ("the end lies within 12 mm", "bend 2 matters most for that (44 %)")
    program = app(job=None, plan_of=lambda _job: laid._replace(expected=expected))
    async with program.run_test(size=(100, 30)) as pilot:
        shown = " ".join((await plan_drawn(program, pilot)).split())
        assert "- The end lies within 12 mm. Bend 2 matters most for that (44 %)." in shown


@pytest.mark.parametrize(("below", "told"), [(1.0, True), (-3.4, False)])
async def test_a_stop_below_the_bend_angle_says_why_on_the_job_screen(app, laid, below, told):
    first, *rest = laid.plan.bends
    low = replace(first, stop_angle_deg=first.bend_angle_deg - below)
    plan = replace(laid.plan, bends=(low, *rest))
    program = app(job=None, plan_of=lambda _job: laid._replace(plan=plan))
    async with program.run_test(size=(100, 30)) as pilot:
        shown = " ".join((await plan_drawn(program, pilot)).split())
        assert ("the first press stops short on purpose" in shown) is told


@pytest.mark.parametrize(
    ("key", "words"), [("d", "in figures"), ("i", "The sensor"), ("h", "springback of this setup")]
)
async def test_each_page_beside_the_bend_comes_by_one_key_and_goes_by_enter(
    app, bench, say, key, words
):
    program = app(history_of=lambda _job, _columns, _rows: ["springback of this setup"])
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="ready"))
        await pilot.press(key)
        assert words in text(program, "page")
        while not footer(program):
            await pilot.pause(0.01)
        assert footer(program).startswith("Enter back")
        await pilot.press("enter")
        assert isinstance(program.screen, BendPage)


async def test_the_sensors_page_is_live_and_gives_way_to_a_hit(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(0.0, t=1.0, phase="ready"))
        await pilot.press("i")
        await feed(program, pilot, bench, say.reading(0.25, t=1.1, phase="ready"))
        assert "0.25°" in text(program, "page")
        await feed(program, pilot, bench, say.reading(9.0, t=1.2))
        await pilot.pause()
        assert isinstance(program.screen, BendPage)


async def test_day_and_night_are_switched_by_a_key_and_remembered(
    app, bench, tmp_path, monkeypatch
):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.delenv("TEXTUAL_THEME", raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    file = tmp_path / "state" / "screen.json"
    program = app(remembered=Remembered(file))
    async with up(program, bench) as pilot:
        assert program.theme == "bench-night"
        await pilot.press("l")
        assert program.theme == "bench-day"
    assert app(remembered=Remembered(file)).theme == "bench-day"
    file.write_text("not json")
    assert app(remembered=Remembered(file)).theme == "bench-night"


async def foot(program, pilot, bench, *presses):
    """Press the foot switch so; a short one is over once no second can follow."""
    for press in presses:
        for _ in range(2 if press == "double" else 1):
            bench.say(Foot(press="long" if press == "long" else "short"))
        await pilot.pause()
        while program._first_press is not None:
            await pilot.pause(0.01)
    await pilot.pause()


async def test_the_foot_alone_chooses_where_the_screen_asks(app, bench, say, monkeypatch):
    monkeypatch.setattr("benchmate.screen.app.DOUBLE_PRESS_S", 0.02)
    program = app(has_foot=True, rehearsal=False)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(90.0, t=2.0, phase="logged", cue="wait"))
        assert bench.sent == []
        bench.say(say.verdict("again", stop_angle=94.0))
        await pilot.pause()
        assert bench.sent == ["take_foot"]
        await foot(program, pilot, bench, "short")
        assert bench.sent[1:] == ["next"]
        await foot(program, pilot, bench, "double")
        assert "[keep it as it is]" in text(program, "told")
        await foot(program, pilot, bench, "long")
        assert "[keep it as it is]" not in text(program, "told")
        await foot(program, pilot, bench, "double", "short")
        assert bench.sent[2:] == ["skip"]
        await foot(program, pilot, bench, "long", "long")
        assert bench.sent[3:] == ["undo"]
        bench.say(say.target(bend=2))
        await feed(program, pilot, bench, say.reading(0.0, t=3.0, phase="zeroing", cue="wait"))
        assert bench.sent[4:] == ["give_foot"]


async def test_the_foot_alone_enters_a_measured_angle(app, bench, say, monkeypatch):
    monkeypatch.setattr("benchmate.screen.app.DOUBLE_PRESS_S", 0.02)
    program = app(has_foot=True, rehearsal=False)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        bench.say(say.verdict("measure"))
        await feed(program, pilot, bench, say.reading(90.0, t=2.0, phase="logged", cue="wait"))
        await foot(program, pilot, bench, "short", "double", "short")
        for _ in range(5):
            await foot(program, pilot, bench, "double")
        await foot(program, pilot, bench, "short")
        assert bench.sent == ["take_foot", "measured 89.9"]


async def test_the_arrows_and_enter_alone_choose(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        bench.say(say.verdict("measure"))
        await feed(program, pilot, bench, say.reading(90.0, t=2.0, phase="logged", cue="wait"))
        await pilot.press("right")
        assert "[go on unmeasured]" in text(program, "told")
        assert "Enter go on unmeasured" in footer(program)
        await pilot.press("right", "enter")
        assert bench.sent == ["again"]
        await pilot.press("left", "left", "enter", "up", "enter")
        assert bench.sent == ["again", "measured 89.9"]


async def test_who_looks_on_sends_nothing(app, bench, say):
    program = app(following=True, by_hand=False)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        bench.say(say.verdict("again", stop_angle=94.0))
        await feed(program, pilot, bench, say.reading(90.0, t=2.0, phase="logged", cue="wait"))
        await pilot.press("enter", "space", "a", "s", "u", "y", "n", "m", "b", "p", "r", "right")
        assert bench.sent == []
        assert "LOOKING ON" in text(program, "header")
        assert "looking on" in told(program).lower()


async def test_who_looks_on_is_told_that_the_bench_has_gone(app, bench, say):
    program = app(following=True, by_hand=False)
    async with up(program, bench) as pilot:
        bench.say(say.target())
        bench.say(Ended(status=1, complaint="it has ended", again=False))
        await pilot.pause()
        assert "no longer heard" in told(program)
        await pilot.press("enter")
        assert len(bench.starts) == 2
        assert bench.sent == []


async def test_a_rehearsal_worked_by_hand_is_left_within_a_second_in_mid_hit(app, bench, say):
    program = app()
    async with up(program, bench) as pilot:
        bench.say(say.target())
        await feed(program, pilot, bench, say.reading(50.0, t=2.0))
        assert program.patience_s() < 1.0
        await pilot.press("q")
        assert bench.sent == ["release"]
        assert bench.hung_up
    assert app(rehearsal=False).patience_s() > 10.0
