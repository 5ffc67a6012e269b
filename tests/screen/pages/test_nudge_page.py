"""The measured angle is entered without typing, by typing, by arrows alone, by the foot alone."""

import pytest
from textual.app import App

from benchmate.screen.pages.nudge_page import NudgePage

NOTHING_YET = "nothing yet"


class Asks(App):
    """Asks for one angle and keeps the answer."""

    answer: object = NOTHING_YET

    def on_mount(self):
        self.push_screen(NudgePage(89.84), self.keep)

    def keep(self, angle):
        self.answer = angle


async def answer_to(*keys, size=(80, 24)):
    app = Asks()
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        await pilot.press(*keys)
        await pilot.pause()
        return app.answer


@pytest.mark.parametrize(
    ("keys", "angle"),
    [
        (["enter"], 89.8),
        (["up", "up", "down", "enter"], 89.9),
        (["plus", "enter"], 89.9),
        (["minus", "minus", "enter"], 89.6),
        (["pageup", "enter"], 90.8),
        (["pagedown", "enter"], 88.8),
        (["escape"], None),
        (["8", "8", "full_stop", "5", "enter"], 88.5),
        (["8", "8", "comma", "5", "enter"], 88.5),
        (["8", "x", "enter"], NOTHING_YET),
        (["8", "8", "escape", "enter"], 89.8),
        (["8", "up", "enter"], 89.9),
    ],
)
async def test_keys_nudge_it_and_digits_type_it(keys, angle):
    assert await answer_to(*keys) == angle


@pytest.mark.parametrize(
    ("keys", "angle"),
    [
        (["right", "enter", "enter", "left", "enter"], 90.0),
        (["right", "right", "enter", "left", "left", "enter"], 89.7),
        (["left", "enter"], None),
    ],
)
async def test_arrows_move_a_mark_and_enter_does_what_it_marks(keys, angle):
    assert await answer_to(*keys) == angle


@pytest.mark.parametrize(
    ("presses", "angle"),
    [
        (["short"], 89.8),
        (["double", "short", "short", *["double"] * 5, "short"], 90.0),
        (["long"], None),
    ],
)
async def test_a_foot_switch_alone_will_do(presses, angle):
    app = Asks()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for press in presses:
            app.screen.foot(press)
            await pilot.pause()
        assert app.answer == angle


@pytest.mark.parametrize("size", [(40, 10), (50, 15), (80, 24), (160, 50)])
async def test_what_would_be_taken_stands_large_at_every_size(size):
    app = Asks()
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        number = app.screen.query_one("#measured")
        assert number.drawn_rows >= 5
        await pilot.press("up")
        assert app.screen.angle == 89.9


async def test_it_never_leaves_the_circle():
    assert await answer_to(*["pagedown"] * 100, "enter") == 0.0
