"""Trial pieces: parameters out of tape measurements, their uncertainty, refusals in words."""

import math
from dataclasses import replace

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.errors import Refusal
from benchmate.layout.trial_design import still_to_measure, suggest, whole_piece
from benchmate.layout.trial_fit import Accuracy, TooLittle, TrialPiece, implausible, solve
from benchmate.shop.parts import Die, Tube

OD = 30.0
TAPE = Accuracy(length_mm=0.5, mark_mm=0.5, angle_deg=0.15)


def as_bent(angle: float, offset: float, radius: float, stretch: float = 0.0) -> TrialPiece:
    """A piece 700 long marked at 220, measured without error by drawing it out in the plane.

    Outline corners come from intersecting the outer lines of the two legs, not from the formulas.
    """
    theta = math.radians(angle)
    near = 220 + offset
    far = 700 - near - radius * theta * (1 - stretch)
    piece = TrialPiece(angle_deg=angle, mark_mm=220, cut_length_mm=700)
    end = np.array([near + radius * math.sin(theta), radius * (1 - math.cos(theta))])
    along = np.array([math.cos(theta), math.sin(theta)])
    outward = np.array([math.sin(theta), -math.cos(theta)])
    on_outside = end + OD / 2 * outward
    if angle <= 150:
        back_along = (-OD / 2 - on_outside[1]) / along[1]
        corner = on_outside + back_along * along
        leg = float(corner[0])
        far_leg = far - back_along
        piece = replace(piece, leg_mm=leg, far_leg_mm=far_leg)
    if angle >= 90:
        swept = np.linspace(0, theta, 20001)
        outer = (radius + OD / 2) * np.stack([np.sin(swept), -np.cos(swept)])
        back = near + float(outer[0].max())
        centre = np.array([near, radius])
        reach = (centre[:, None] + outer - end[:, None]).T @ along
        piece = replace(piece, back_mm=back, far_back_mm=far - float(reach.min()))
    if angle >= 170:
        inner = end - OD / 2 * outward
        piece = replace(piece, width_mm=on_outside[1] + OD / 2, gap_mm=inner[1] - OD / 2)
    return piece


@given(st.floats(-40, 60), st.floats(60, 180), st.sampled_from([(180, 90), (90, 45), (150, 60)]))
def test_measurements_without_error_give_the_figures_back(
    offset: float, radius: float, angles: tuple[float, float]
) -> None:
    pieces = [as_bent(angle, offset, radius) for angle in angles]
    found = solve(pieces, OD, drawn_radius_mm=100)
    assert found.start_offset_mm.value == pytest.approx(offset, abs=1e-4)
    assert found.free_radius_mm.value == pytest.approx(radius, abs=1e-4)
    assert found.outlier == ""


def test_stretch_is_found_within_its_uncertainty() -> None:
    pieces = [as_bent(angle, 14, 102, stretch=0.008) for angle in (180, 180, 90)]
    found = solve(pieces, OD, 100)
    assert found.stretch is not None
    assert abs(found.stretch.value - 0.008) < found.stretch.u


def test_a_single_u_is_enough() -> None:
    found = solve([as_bent(180, 14, 102)], OD, 100)
    assert found.start_offset_mm.value == pytest.approx(14, abs=1e-4)
    assert found.free_radius_mm.u < 0.5


def test_a_single_l_is_refused_with_what_to_add() -> None:
    with pytest.raises(Refusal, match="a single 90 deg L can't tell radius from start offset"):
        solve([as_bent(90, 14, 102)], OD, 100)


def test_a_width_alone_does_not_tell_the_start_offset() -> None:
    piece = TrialPiece(angle_deg=180, width_mm=234)
    with pytest.raises(Refusal, match="doesn't tell the start offset: give a mark"):
        solve([piece], OD, 100)


def test_uncertainties_are_those_that_measuring_again_and_again_shows() -> None:
    """GUM covariance against the spread over 400 sets of measurements with drawn errors."""
    rng = np.random.default_rng(3)
    clean = [as_bent(178, 14, 102), as_bent(90, 14, 102)]
    spread = {"angle_deg": TAPE.angle_deg, "mark_mm": TAPE.mark_mm}

    def measured(piece: TrialPiece) -> TrialPiece:
        values = {
            name: value + rng.normal(0, spread.get(name, TAPE.length_mm))
            for name in TrialPiece.__dataclass_fields__
            if (value := getattr(piece, name)) is not None
        }
        return TrialPiece(**values)

    answers = [solve([measured(piece) for piece in clean], OD, 100, TAPE) for _ in range(400)]
    offsets = np.array([answer.start_offset_mm.value for answer in answers])
    radii = np.array([answer.free_radius_mm.value for answer in answers])
    assert offsets.std() == pytest.approx(answers[0].start_offset_mm.u, rel=0.12)
    assert radii.std() == pytest.approx(answers[0].free_radius_mm.u, rel=0.12)
    assert sum(bool(answer.outlier) for answer in answers) < 20


def test_a_measurement_that_cannot_be_right_is_named_with_what_the_others_make_it() -> None:
    good = as_bent(90, 14, 102)
    assert good.leg_mm is not None
    pieces = [as_bent(180, 14, 102), replace(good, leg_mm=good.leg_mm + 10), as_bent(45, 14, 102)]
    said = solve(pieces, OD, 100).outlier
    assert said.startswith("piece 2's outside leg 361.0 mm can't be right")
    assert said.endswith("make it 351.0 mm")


def test_measurements_that_only_check_each_other_are_named_together() -> None:
    piece = replace(as_bent(180, 14, 102), far_back_mm=None, gap_mm=None)
    assert piece.width_mm is not None
    said = solve([replace(piece, width_mm=250), replace(piece, width_mm=234)], OD, 100).outlier
    assert said.startswith(
        "piece 1's outside width 250.0 mm and piece 2's outside width 234.0 mm don't"
    )


def test_a_measurement_that_nothing_checks_is_not_called_improbable() -> None:
    sparse = TrialPiece(angle_deg=180, mark_mm=220, back_mm=351, width_mm=234)
    answer = solve([sparse], OD, 100)
    assert answer.outlier == ""
    assert all(each.normalised == pytest.approx(0, abs=1e-6) for each in answer.residuals)


@pytest.mark.parametrize(
    ("piece", "words"),
    [
        (
            TrialPiece(angle_deg=45, width_mm=100),
            "outside width belongs to a bend of 170 to 180 deg",
        ),
        (
            TrialPiece(angle_deg=45, mark_mm=9, back_mm=100),
            "back of bend to end belongs to a",
        ),
        (
            TrialPiece(angle_deg=180, mark_mm=9, leg_mm=100),
            "outside leg belongs to a bend of 1 to 150",
        ),
        (TrialPiece(angle_deg=90, leg_mm=300), "outside leg says nothing without the mark"),
        (
            TrialPiece(angle_deg=90, mark_mm=200, far_leg_mm=300),
            "far outside leg says nothing without the cut length",
        ),
        (TrialPiece(angle_deg=90, mark_mm=900, cut_length_mm=700), "lies past the cut length"),
        (TrialPiece(angle_deg=90, mark_mm=-3), "mark -3; it must be a number above 0"),
        (TrialPiece(angle_deg=math.nan), "bend angle nan"),
        (TrialPiece(angle_deg=190), "give up to 180"),
    ],
)
def test_what_a_piece_cannot_have_is_refused_in_words(piece: TrialPiece, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        solve([piece], OD, 100)


def test_the_first_piece_suggested_is_a_u_where_the_die_can_do_one(die: Die, tube: Tube) -> None:
    first = suggest(die, tube, 102)
    assert first.angle_deg == 180
    assert first.free_radius_u_mm < 0.3
    assert first.cut_length_mm % 10 == first.mark_mm % 10 == 0
    assert "width_mm" in first.measure


def test_a_piece_suggested_is_one_that_solves(die: Die, tube: Tube) -> None:
    wanted = suggest(die, tube, 102)
    answer = solve([whole_piece(wanted.angle_deg, die, tube, 102)], tube.od_mm, 95)
    assert answer.start_offset_mm.value == pytest.approx(12, abs=1e-3)
    assert answer.start_offset_mm.u == pytest.approx(wanted.start_offset_u_mm, rel=0.01)


def test_a_second_piece_leaves_less_uncertain_than_the_first(die: Die, tube: Tube) -> None:
    first = suggest(die, tube, 102)
    done = whole_piece(first.angle_deg, die, tube, 102)
    second = suggest(die, tube, 102, done=[done])
    assert second.start_offset_u_mm < first.start_offset_u_mm


@pytest.mark.parametrize("furthest", [60.0, 90.0, 100.0, 110.0, 120.0, 150.0, 180.0])
def test_what_a_suggestion_asks_to_be_measured_can_be_and_is_told_whether_it_is_enough(
    furthest: float, die: Die, tube: Tube
) -> None:
    short = msgspec.structs.replace(die, max_angle_deg=furthest)
    wanted = suggest(short, tube, 102)
    piece = whole_piece(wanted.angle_deg, short, tube, 102)
    assert wanted.angle_deg <= furthest
    if wanted.angle_deg < 170:
        assert not {"width_mm", "gap_mm"} & set(wanted.measure)
    assert {name for name in wanted.measure if getattr(piece, name) is None} == set()
    if wanted.enough:
        solve([piece], tube.od_mm, 102)
    else:
        with pytest.raises(TooLittle):
            solve([piece], tube.od_mm, 102)


@pytest.mark.parametrize("furthest", [90.0, 100.0])
def test_where_one_piece_cannot_tell_the_two_that_are_suggested_can(
    furthest: float, die: Die, tube: Tube
) -> None:
    short = msgspec.structs.replace(die, max_angle_deg=furthest)
    first = whole_piece(suggest(short, tube, 102).angle_deg, short, tube, 102)
    second = suggest(short, tube, 102, done=[first])
    assert second.enough
    pieces = [first, whole_piece(second.angle_deg, short, tube, 102)]
    assert solve(pieces, tube.od_mm, 102).free_radius_mm.value == pytest.approx(102, abs=1e-3)


def test_in_a_shop_that_writes_inches_a_piece_is_cut_to_half_inches(die: Die, tube: Tube) -> None:
    wanted = suggest(die, tube, 102, unit="frac")
    assert wanted.cut_length_mm / 12.7 == pytest.approx(round(wanted.cut_length_mm / 12.7))
    assert wanted.mark_mm / 12.7 == pytest.approx(round(wanted.mark_mm / 12.7))


@pytest.mark.parametrize(
    ("piece", "names"),
    [
        (TrialPiece(angle_deg=180, mark_mm=220, back_mm=351), ("width_mm",)),
        (TrialPiece(angle_deg=110, mark_mm=220, leg_mm=400, cut_length_mm=700), ("far_leg_mm",)),
        (TrialPiece(angle_deg=89.5, mark_mm=220, cut_length_mm=700, leg_mm=351), ()),
    ],
)
def test_what_else_to_measure_of_a_piece_is_the_least_that_tells(
    piece: TrialPiece, names: tuple[str, ...], die: Die, tube: Tube
) -> None:
    assert still_to_measure([piece], die, tube, 102, TAPE) == names


@pytest.mark.parametrize(
    ("piece", "expected", "words"),
    [
        (as_bent(180, 14, 102), 100, ""),
        (as_bent(180, 14, 102), 75, "the radius would come out at 102.0 mm"),
        (as_bent(180, 160, 102), 100, "the bend would start 160.0 mm from the mark"),
    ],
)
def test_what_no_die_does_is_told_though_all_agree(
    piece: TrialPiece, expected: float, words: str
) -> None:
    assert implausible(solve([piece], OD, expected), expected).startswith(words)
    assert bool(implausible(solve([piece], OD, expected), expected)) == bool(words)
