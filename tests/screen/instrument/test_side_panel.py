import unicodedata

import pytest

from benchmate.screen.client import Ended
from benchmate.screen.instrument import answers
from benchmate.screen.instrument.arrangement import arranged
from benchmate.screen.instrument.side_panel import side
from benchmate.screen.state.bench_state import after, leaving
from benchmate.screen.words.cues import WORDS
from benchmate.screen.words.fitting import Told, fitted, told_lines
from benchmate.stream import Fault, Peak, Rest

SAFE = set("\u00b0\u00b1\u2190\u2191\u2192\u2193\u2500\u2502\u2550\u2588\u25a0\u00b7")
"""What the kernel's own console font has beside ASCII (its code page 437)."""
NOTHING = Told("plain", (), "")


def text(line):
    return "".join(piece for piece, _ in line)


@pytest.fixture
def busy(fold, say):
    """A bend in its second hit, more to come."""
    return fold(
        say.target(),
        say.reading(91.0, t=1.0, strokes=2.2),
        Peak(arm=92.0),
        Rest(arm=89.0, springback=3.0),
        say.verdict("again", bend_angle=89.0, stop_angle=94.0),
        say.target(hit=2, stop_angle=94.0),
        say.reading(92.0, t=2.0, strokes=1.0),
        planned=(90.0, 45.0, 120.0),
    )


def test_the_bends_are_listed_with_marks_of_shape(fold, say):
    state = fold(
        say.target(),
        say.verdict(bend_angle=89.8, hits=2),
        say.target(bend=2, bend_angle=45.0),
        say.verdict("over", bend=2, bend_angle=46.0),
        say.target(bend=3, bend_angle=120.0),
        planned=(90.0, 45.0, 120.0),
    )
    lines = [text(line).rstrip() for line in side(state, 22, 10, NOTHING)]
    assert lines[:4] == [
        "  # want  bent hits",
        "■ 1  90.0  89.8  2",
        "! 2  45.0  46.0  1",
        "→ 3 120.0",
    ]


def test_a_long_job_shows_the_bends_around_the_one_in_work(fold, say):
    state = fold(say.target(bend=20, bends=40))
    shown = [text(line) for line in side(state, 22, 16, NOTHING)]
    assert any(line.startswith("→20") for line in shown)
    assert len(shown) <= 16


def test_hits_show_peak_and_rest(busy):
    assert "hit 1: 92.0 → 89.0" in [text(line) for line in side(busy, 22, 18, NOTHING)]


def test_mark_and_turn_stand_there_while_the_tube_is_put_in(fold, say):
    state = fold(say.target(mark=254.0, turn=-45.0), say.reading(0.0, phase="zeroing"), unit="frac")
    lines = [text(line) for line in side(state, 22, 14, NOTHING)]
    assert "mark 10 in" in lines
    assert "turn 45.0° anticlockwise seen from" in " ".join(lines)


def test_sentences_without_room_below_stand_there_whole(fold, say):
    advice = "First sentence of some length, so that it wraps. Second, to be read as well."
    state = fold(say.target(), say.verdict("again", stop_angle=94.0, advice=advice))
    said = fitted(state, 80, 1, aside=True)
    shown = " ".join(text(line) for line in side(state, 26, 13, said))
    assert "Second, to be read as well." in shown


@pytest.mark.parametrize(("width", "height"), [(50, 15), (40, 10)])
def test_without_a_side_what_does_not_fit_ends_at_a_word_with_a_sign(fold, say, width, height):
    state = fold(say.target(advice="A long advice. " * 9), say.reading(0.0, phase="zeroing"))
    rows = arranged(width, height, numbers=False)
    lines = [text(line) for line in told_lines(fitted(state, width, rows.told, aside=False))]
    assert len(lines) <= rows.told
    assert all(len(line) <= width for line in lines)
    assert lines[-1].endswith(" ... (?)")


@pytest.mark.parametrize("verdict", ["accept", "again", "over", "measure"])
def test_a_verdict_on_a_small_panel_is_said_in_one_row_uncut(fold, say, verdict):
    stop = 94.2 if verdict == "again" else None
    state = fold(say.target(), say.verdict(verdict, bend_angle=89.1, stop_angle=stop))
    (line,) = told_lines(fitted(state, 50, 1, aside=False))
    assert "(?)" not in text(line)
    if stop:
        assert text(line) == " 0.9 short: press again to 94.2°, or keep it (s)."


@pytest.mark.parametrize(("width", "height"), [(40, 10), (80, 24), (100, 30), (160, 50)])
def test_no_text_is_wider_than_its_room_and_every_glyph_is_in_the_consoles_font(
    busy, say, width, height
):
    lost = after(busy, Fault(what="bus", detail="no answer at 0x6a on bus 1"), 100.0)
    gone = after(busy, Ended(1, "the bus is gone", again=False), 100.0)
    judged = after(busy, say.verdict("over", bend_angle=92.0, advice="Measure it."), 100.0)
    for state in (busy, lost, gone, judged, leaving(busy)):
        rows = arranged(width, height)
        said = fitted(state, width, rows.told, aside=rows.side > 0)
        lines = [*told_lines(said), answers.header(state, (True,) * 5, width)]
        assert all(len(text(line)) <= width for line in lines)
        if rows.side:
            beside = side(state, rows.side - 1, rows.number, said)
            assert all(len(text(line)) <= rows.side for line in beside)
            assert len(beside) <= rows.number
            lines += beside
        bar = answers.bar(state, 100.0, width)
        shown = "".join(map(text, lines)) + "".join(piece.text for piece in bar)
        assert {sign for sign in shown if not sign.isascii()} <= SAFE


def test_text_from_outside_can_steer_no_terminal(busy):
    state = after(busy, Fault(what="sensor", detail="bad \x1b[2J\u202e name"), 100.0)
    said = fitted(state, 80, 2, aside=True)
    shown = " ".join((*said.rows, said.rest))
    assert all(unicodedata.category(sign) not in {"Cc", "Cf"} for sign in shown)


def test_every_situation_has_a_word():
    assert all(word.texts and max(map(len, word.texts)) <= 11 for word in WORDS.values())
