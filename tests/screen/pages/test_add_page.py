"""The screen of ``add``, worked with Enter, arrows and digits alone."""

from pathlib import Path

import pytest

from benchmate.errors import Refusal
from benchmate.screen.pages.add_page import AddApp, AddStep, Form, nudge

DIES = ("lane-20", "round-25-r75")


@pytest.fixture(autouse=True)
def same_everywhere(monkeypatch):
    monkeypatch.setenv("TEXTUAL_ANIMATIONS", "none")
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("TEXTUAL_THEME", raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)


def asks(answers):
    questions = (
        AddStep("job", "name of the job", given="job-1"),
        AddStep("die", "die that takes it", DIES),
        AddStep("straight", "straight before bend 1"),
        AddStep("lot", "lot of the tube", optional=True),
    )
    return next((each for each in questions if each.name not in answers), None)


def take(answers, written):
    asked = asks(answers)
    if asked.choices:
        return asked.choices[int(written) - 1]
    if asked.name == "straight" and not written.replace(".", "").isdigit():
        raise ValueError("write a length, as in 300 mm")
    return written or asked.given


def whole(answers):
    if answers["straight"] == "1":
        raise Refusal("the new job:7: straight: too short to hold")
    return [f"{key}: {value}" for key, value in answers.items()]


def draw(answers, wide, _high):
    return ["#" * min(wide, 12)] * 4 if "straight" in answers else []


@pytest.fixture
def app():
    return AddApp(Form(title="New job", asks=asks, take=take, draw=draw, whole=whole), {})


async def typed(pilot, keys):
    for key in keys.split():
        await pilot.press(key)
    await pilot.pause()


def shown(app):
    return "\n".join("".join(text for text, _ in line) for line in app.screen._lines._lines)


async def test_enter_arrows_and_digits_answer_all_and_write(app):
    async with app.run_test(size=(80, 24)) as pilot:
        await typed(pilot, "enter down enter 3 0 0 enter enter enter")
    assert app.return_value == {
        "job": "job-1",
        "die": "round-25-r75",
        "straight": "300",
        "lot": "",
    }


async def test_a_digit_goes_to_its_choice(app):
    async with app.run_test(size=(80, 24)) as pilot:
        await typed(pilot, "enter 2")
        assert "\u2192 2 round-25-r75" in shown(app)
        await typed(pilot, "enter")
        assert "die: round-25-r75" in shown(app)


async def test_left_is_a_step_back_with_the_answer_in_the_line(app):
    async with app.run_test(size=(80, 24)) as pilot:
        await typed(pilot, "left")
        assert "this is the first question" in shown(app)
        await typed(pilot, "enter down enter 3 0 0 enter left")
        assert "> 300_" in shown(app)
        await typed(pilot, "left")
        assert "\u2192 2 round-25-r75" in shown(app)


async def test_what_cannot_be_is_said_at_once_and_asked_again(app):
    async with app.run_test(size=(80, 24)) as pilot:
        await typed(pilot, "enter enter x enter")
        assert "write a length, as in 300 mm" in shown(app)
        await typed(pilot, "backspace 3 0 enter")
        assert "straight: 30" in shown(app)


async def test_arrows_nudge_a_number(app):
    async with app.run_test(size=(80, 24)) as pilot:
        await typed(pilot, "enter enter 3 0 up up down down down")
        assert "> 29.9_" in shown(app)


def test_a_nudge_keeps_the_unit_and_leaves_words_alone():
    assert nudge("25 mm", 1) == "25.1 mm"
    assert nudge("", -1) == "-0.1"
    assert nudge("0.1", -1) == "0"
    assert nudge("gate", 1) is None


async def test_a_file_that_cannot_be_is_not_written_and_the_way_back_is_told(app):
    async with app.run_test(size=(80, 24)) as pilot:
        await typed(pilot, "enter enter 1 enter enter")
        assert "straight: too short to" in shown(app)
        assert "step back" in shown(app)
        await typed(pilot, "enter")
        assert app.is_running
        await typed(pilot, "left left 3 0 0 enter enter")
        assert "straight: 3001" not in shown(app)


async def test_escape_leaves_and_gives_nothing(app):
    async with app.run_test(size=(80, 24)) as pilot:
        await typed(pilot, "enter enter escape")
    assert app.return_value is None


async def test_the_part_is_drawn_as_soon_as_there_is_one(app):
    async with app.run_test(size=(80, 24)) as pilot:
        await typed(pilot, "enter enter")
        assert "####" not in shown(app)
        await typed(pilot, "3 0 enter")
        assert "############" in shown(app)


async def test_the_starter_shops_questions_are_the_terminals_own(monkeypatch, tmp_path: Path):
    """The screen asks what the lines of text ask: the same source gives both."""
    from benchmate.commands import add
    from benchmate.places import starter_shop
    from benchmate.shop import Shop

    made = []
    monkeypatch.setattr(
        "benchmate.screen.pages.add_page.AddApp.run",
        lambda self: made.append(self) or None,
    )
    shop = Shop.read(starter_shop())[0]
    add._on_screen("job", shop, (), "mm", {}, braille=False)
    async with made[0].run_test(size=(80, 24)) as pilot:
        await typed(pilot, "enter 1 enter 1 enter enter enter 1 enter 3 0 0 enter 9 0 enter enter")
        await typed(pilot, "2 5 0 enter enter")
        assert "#" in shown(made[0])
        await typed(pilot, "enter")
    answers = made[0].return_value
    assert (answers["straight 1"], answers["angle 1"]) == ("300 mm", "90")
    assert answers["tail"] == "250 mm"


@pytest.mark.parametrize("size", [(80, 24), (50, 15)], ids=lambda size: f"{size[0]}x{size[1]}")
def test_it_looks_so(app, snap_compare, size):
    async def script(pilot):
        await typed(pilot, "enter down enter 3 0 0 enter left x enter")

    assert snap_compare(app, terminal_size=size, run_before=script)


@pytest.mark.parametrize("size", [(80, 24), (50, 15)], ids=lambda size: f"{size[0]}x{size[1]}")
def test_choices_look_so(app, snap_compare, size):
    async def script(pilot):
        await typed(pilot, "enter down")

    assert snap_compare(app, terminal_size=size, run_before=script)
