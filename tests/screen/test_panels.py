import itertools
import unicodedata

import pytest

from benchmate.screen import panels, telling
from benchmate.screen.client import Ended
from benchmate.screen.sizes import share
from benchmate.screen.snapshot import after, leaving
from benchmate.stream import Fault, Peak, Rest

SAFE = set("\u00b0\u00b1\u2190\u2191\u2192\u2193\u2500\u2502\u2588\u25a0")


def text(line):
    return "".join(piece for piece, _ in line)


def all_text(state, now, width, height):
    sizes = share(width, height)
    lines = [
        panels.header(state, now, width),
        *panels.label_lines(state, now, width - sizes.side, sizes),
        *panels.side(state, max(sizes.side - 2, 10), height),
        panels.status(state, now),
        *telling.told_lines(state, now, width, sizes.told),
        panels.bottom(state, now, width, telling=True),
        panels.bottom(state, now, width, telling=False),
    ]
    return [text(line) for line in lines] + [
        lamp[1] for lamp in panels.lamps(state, now, width - sizes.side)
    ]


@pytest.fixture
def busy(fold, say):
    """A bend in its second hit, a fault standing, more to come."""
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


def test_the_header_names_job_bend_angle_and_rehearsal(busy):
    assert text(panels.header(busy, 100.0, 60)) == (
        " gate-frame  bend 1 of 3  90.0° ±0.5".ljust(49) + " SIMULATED "[:11]
    )


def test_the_header_takes_the_status_where_there_is_room_for_it(busy):
    assert text(panels.header(busy, 100.0, 100, share(100, 24))) == (
        " gate-frame  bend 1 of 3  90.0° ±0.5".ljust(66) + "hit 2  strokes left 1   SIMULATED "
    )


def test_a_narrow_header_gives_up_the_job_before_half_a_number(busy):
    assert text(panels.header(busy, 100.0, 40)) == (
        " bend 1 of 3  90.0° ±0.5".ljust(29) + " SIMULATED "
    )


def test_the_drawings_angle_stands_beside_one_that_planning_anew_moved(fold, say):
    moved = fold(say.target(bend_angle=81.4, drawn_angle=81.2), rehearsal=False)
    assert "81.4° ±0.5 (drawn 81.2°)" in text(panels.header(moved, 100.0, 80))
    same = fold(say.target(bend_angle=81.2, drawn_angle=81.2))
    assert "drawn" not in text(panels.header(same, 100.0, 80))


def test_how_sure_the_stop_is_stands_over_it_in_the_trades_words(busy):
    label = text(panels.label_lines(busy, 100.0, 60, share(80, 24))[0])
    assert label.startswith(" STOP AT, give or take 1.2 ")
    assert "stop give or take 1.2" in text(panels.status(busy, 100.0, stop=True))


def test_before_zero_the_status_says_what_the_arm_reads(fold, say):
    state = fold(say.target(), say.reading(-0.02, phase="zeroing", cue="wait"))
    assert text(panels.status(state, 100.0)) == " hit 1   arm reads 0.0° before zero"


def test_how_sure_the_arm_angle_is_is_never_nought(fold, say):
    def line(sd):
        state = fold(say.target(), say.reading(40.0, sd=sd))
        return text(telling.told_lines(state, 100.0, 80, 1)[0])

    assert line(0.07).endswith("Arm angle: give or take 0.1.")
    assert line(0.004).endswith("Arm angle: give or take under 0.1.")


@pytest.mark.parametrize("width", [40, 50, 80])
def test_mark_and_turn_are_told_where_no_side_panel_shows_them(fold, say, width):
    state = fold(say.target(mark=254.0, turn=-45.0), say.reading(0.0, phase="zeroing"), unit="frac")
    told = " ".join(
        text(line).strip() for line in telling.told_lines(state, 100.0, width, 3, narrow=True)
    )
    assert told.startswith("Mark 10 in, turn 45.0° anticlockwise. Clamp the tube snug")


@pytest.mark.parametrize("width", [12, 20, 40, 80, 200])
def test_a_rehearsal_is_marked_at_every_width(busy, width):
    line = text(panels.header(busy, 100.0, width, share(width, 24)))
    assert "SIMULATED" in line
    assert len(line) <= width


def test_the_numbers_are_arm_stop_and_to_go(busy):
    assert panels.numbers(busy, 100.0) == ("92.0", "94.0", "2.0")


def test_without_a_fresh_reading_arm_and_to_go_are_dashes_and_the_stop_stays(busy):
    assert panels.numbers(busy, 100.4) == ("--.-", "94.0", "--.-")


def test_past_the_stop_to_go_is_negative_and_the_label_says_so(fold, say):
    state = fold(say.target(), say.reading(93.9, to_go=-0.5))
    assert panels.numbers(state, 100.0)[2] == "-0.5"
    label = text(panels.label_lines(state, 100.0, 60, share(80, 24))[0])
    assert "PAST THE STOP" in label
    short = fold(say.target(), say.reading(93.3, to_go=0.1))
    assert "TO GO" in text(panels.label_lines(short, 100.0, 60, share(80, 24))[0])


def test_before_zero_is_taken_there_is_nothing_to_go(fold, say):
    state = fold(say.target(), say.reading(17.0, phase="zeroing", cue="wait"))
    assert panels.numbers(state, 100.0) == ("--.-", "93.4", "--.-")


def test_a_bend_past_a_right_angle_has_room_for_four_digits_from_its_start(fold, say):
    assert panels.digit_count(fold(say.target(over_angle=94.0))) == 3
    assert panels.digit_count(fold(say.target(over_angle=98.0))) == 4


@pytest.mark.parametrize("width", [24, 50, 80, 100, 233])
@pytest.mark.parametrize("cue", ["wait", "pump", "slow", "stop", "release", "over"])
def test_lamps_keep_their_places_and_exactly_the_cue_is_lit(fold, say, width, cue):
    state = fold(say.target(), say.reading(50.0, cue=cue))
    lamps = panels.lamps(state, 100.0, width)
    assert sum(len(lamp[1]) for lamp in lamps) == width
    assert [lamp for lamp, _, lit in lamps if lit] == [cue]
    assert [lamp for lamp, _, _ in lamps] == ["wait", "pump", "slow", "stop", "release", "over"]


def test_the_lit_lamp_carries_word_and_shape_in_capitals(fold, say):
    lamps = panels.lamps(fold(say.target(), say.reading(93.4, cue="stop")), 100.0, 90)
    assert [lamp[1].strip() for lamp in lamps] == [
        "wait", "pump", "slow", "■ STOP ■", "release", "over",
    ]  # fmt: skip


def test_only_over_flashes_and_no_faster_than_three_times_a_second(fold, say):
    over = fold(say.target(), say.reading(95.0, cue="over"), now=0.0)
    lit = [any(lamp[2] for lamp in panels.lamps(over, at / 100, 90)) for at in range(30)]
    changes = sum(before != now for before, now in itertools.pairwise(lit))
    assert 1 <= changes <= 2
    stop = fold(say.target(), say.reading(93.4, cue="stop"), now=0.0)
    assert all(any(lamp[2] for lamp in panels.lamps(stop, at / 100, 90)) for at in range(30))


def test_a_stale_reading_lights_wait(busy):
    assert [lamp for lamp, _, lit in panels.lamps(busy, 101.0, 90) if lit] == ["wait"]


def test_the_side_panel_lists_bends_with_marks_of_shape(fold, say):
    state = fold(
        say.target(),
        say.verdict(bend_angle=89.8, hits=2),
        say.target(bend=2, bend_angle=45.0),
        say.verdict(bend=2, bend_angle=46.0),
        say.target(bend=3, bend_angle=120.0),
        planned=(90.0, 45.0, 120.0),
    )
    lines = [text(line).rstrip() for line in panels.side(state, 22, 10)]
    assert lines[:4] == [
        "  # want  bent hits",
        "■ 1  90.0  89.8  2",
        "! 2  45.0  46.0  1",
        "→ 3 120.0",
    ]


def test_a_long_job_shows_the_bends_around_the_one_in_work(fold, say):
    state = fold(say.target(bend=20, bends=40))
    shown = [text(line) for line in panels.side(state, 22, 16)]
    assert any(line.startswith("→20") for line in shown)
    assert len(shown) == 16


def test_hits_show_peak_and_rest(busy):
    assert "hit 1: 92.0 → 89.0" in [text(line) for line in panels.side(busy, 22, 18)]


def test_a_hit_is_said_to_be_under_way_and_a_turn_is_never_minus_nought(fold, say):
    state = fold(say.target(mark=254.0, turn=-0.0001), say.reading(50.0))
    shown = [text(line) for line in panels.side(state, 22, 18)]
    assert "hit 1 under way" in shown
    assert "no turn" in shown


def test_only_a_person_at_a_simulated_pump_is_told_its_keys(fold, say):
    def line(phase, **start):
        return text(panels.footer(fold(say.target(), say.reading(9.0, phase=phase), **start), 80))

    assert "p pump" not in line("zeroing", by_hand=True)
    assert "p pump" in line("ready", by_hand=True)
    assert "r release" in line("bending", by_hand=True)
    assert "p pump" not in line("bending", by_hand=False)


def test_mark_and_turn_of_the_bend_are_shown_in_the_jobs_unit(fold, say):
    target = say.target(mark=254.0, turn=90.0)
    shown = [text(line) for line in panels.side(fold(target), 24, 18)]
    assert "mark 254 mm" in shown
    assert "turn 90.0° clockwise" in shown
    assert "seen from the last end" in shown
    inches = [text(line) for line in panels.side(fold(target, unit="frac"), 22, 18)]
    assert "mark 10 in" in inches


def test_a_lost_bench_and_a_fault_are_marked_with_a_word(busy):
    faulty = after(busy, Fault(what="sensor", detail="frozen"), 100.0)
    assert text(telling.told_lines(faulty, 100.0, 80, 1)[0]).startswith(" FAULT")
    lost = after(busy, Ended(1, "", again=False), 100.0)
    assert text(telling.told_lines(lost, 100.0, 80, 1)[0]).startswith(" FAULT")


def test_a_line_too_long_for_its_rows_says_that_it_goes_on_and_where(busy):
    faulty = after(busy, Fault(what="sensor", detail="many words " * 20), 100.0)
    lines = [text(line) for line in telling.told_lines(faulty, 100.0, 40, 2)]
    assert len(lines) == 2
    assert lines[-1].endswith("... (?)")
    assert max(map(len, lines)) <= 40


def test_sentences_that_find_no_room_stand_whole_in_the_side_panel(fold, say):
    advice = "Little is known of this setup yet. Measure the tube after the first press, please."
    state = fold(say.target(advice=advice), say.reading(0.0, phase="zeroing", cue="wait"))
    told = [
        text(line).strip() for line in telling.told_lines(state, 100.0, 80, 1, rest_elsewhere=True)
    ]
    said = telling.said(state, 80, 1)
    side = [text(line) for line in panels.side(state, 22, 18, said)]
    assert told == ["Clamp the tube snug, no load, arm still; then take zero."]
    assert " ".join(side[-5:]) == advice
    assert max(map(len, side)) <= 22


def test_a_long_job_leaves_room_for_what_is_told_in_the_side_panel(fold, say):
    advice = "First sentence of some length. Second one, which must be read as well."
    state = fold(say.target(bend=20, bends=40, mark=1.0, turn=2.0, advice=advice))
    said = telling.said(state, 60, 1)
    side = " ".join(text(line) for line in panels.side(state, 19, 17, said))
    assert side.endswith(said.rest)


def test_what_fits_is_told_under_the_numbers_alone(fold, say):
    state = fold(say.target(advice="Short."), say.reading(0.0, phase="zeroing", cue="wait"))
    said = telling.said(state, 80, 2)
    assert said.rest == ""
    assert " ".join(said.rows).endswith("take zero. Short.")


def test_the_footer_gives_what_enter_does_and_only_keys_that_do_something(fold, say):
    zeroing = fold(say.target(), say.reading(0.0, phase="zeroing", cue="wait"), rehearsal=False)
    assert text(panels.footer(zeroing, 80)) == (
        " Enter: take zero   u undo  s skip  ? help  q quit"
    )
    judged = fold(say.target(), say.verdict(), rehearsal=True)
    assert text(panels.footer(judged, 80)) == (
        " Enter: next bend   m measured  a press again  u undo  ? help  q quit"
    )
    bending = fold(say.target(), say.reading(40.0), rehearsal=False)
    assert "b ram at its end" not in text(panels.footer(bending, 80))
    biting = fold(say.target(), say.reading(40.0), bites=True)
    assert "b ram at its end" in text(panels.footer(biting, 40))
    assert text(panels.footer(leaving(bending), 80)) == " Ending   q leave at once"


def test_without_a_row_of_its_own_what_is_to_be_told_stands_in_the_bottom_line(fold, say):
    def line(state):
        return text(panels.bottom(state, 100.0, 50, telling=True))

    bending = fold(say.target(), say.reading(40.0), rehearsal=False)
    assert line(bending) == " Bend under way   ? help  q quit"
    refused = after(bending, Fault(what="command", detail="'undo' is for between hits"), 100.0)
    assert line(refused) == " u is for between hits"
    assert "Angle lost." in line(after(bending, Fault(what="bus", detail="gone"), 100.0))


@pytest.mark.parametrize("width", [50, 80, 100])
def test_the_lit_lamp_keeps_a_shape_on_narrow_terminals(fold, say, width):
    for cue in ("pump", "slow", "stop", "over"):
        lamps = panels.lamps(fold(say.target(), say.reading(50.0, cue=cue)), 100.0, width)
        (lit,) = (lamp[1] for lamp in lamps if lamp[0] == cue)
        assert lit.strip() != lit.strip().strip("→|■←!-")


@pytest.mark.parametrize(
    "size", [(1, 1), (20, 6), (40, 10), (50, 15), (80, 24), (100, 30), (300, 100)]
)
def test_all_glyphs_are_in_every_console_font(busy, size):
    width, height = size
    for faulty in (busy, after(busy, Fault(what="bus", detail="gone"), 100.0), leaving(busy)):
        for line in all_text(faulty, 100.0, width, height):
            assert {c for c in line if not c.isascii()} <= SAFE
            assert not any(unicodedata.category(c) == "Cc" for c in line)


VERDICTS = ("accept", "again", "over", "measure")


@pytest.mark.parametrize("verdict", VERDICTS)
@pytest.mark.parametrize("width", [40, 50, 80, 100])
def test_help_and_the_way_out_are_on_every_bottom_line(fold, say, laid, width, verdict):
    state = fold(
        say.target(mark=254.0, turn=0.0, changed=("bend 2: mark",)),
        say.verdict(verdict),
        planned=(90.0, 45.0, 120.0),
    )
    line = panels.footer(state, width)
    assert len(text(line)) <= width
    assert [piece for piece, ink in line if ink == "key"][-2:] == ["?", "q"]
    assert ("  n unmeasured" in text(line)) is (verdict == "measure")


def test_of_a_bend_to_be_measured_the_line_says_what_enter_does_and_what_goes_on(fold, say):
    state = fold(say.target(), say.verdict("measure"))
    assert text(panels.footer(state, 90)) == (
        " Enter: type the measured angle   n unmeasured  a press again  u undo  ? help  q quit"
    )


def test_a_bend_to_be_measured_is_marked_as_neither_good_nor_bad(fold, say):
    state = fold(say.target(), say.verdict("measure", bend_angle=90.0), say.target(bend=2))
    assert text(panels.side(state, 22, 10)[1]).startswith("? 1")
