"""What each key may hold, and what keys and files owe each other."""

from collections.abc import Callable
from pathlib import Path

import pytest

from benchmate.errors import Refusal
from benchmate.shop import Shop

WriteShop = Callable[..., Path]

BENCH, DIE, TUBE, JOB = "bench.yaml", "dies/round.yaml", "tubes/mild.yaml", "jobs/knee.yaml"


@pytest.mark.parametrize(
    ("spoilt", "said"),
    [
        # a sensor, arm and pins that can be
        ((BENCH, "0x6a", "0x6g"), r":2: sensor address: '0x6g' is no whole number"),
        ((BENCH, "0x6a", "true"), r":2: sensor address: 'true' is no whole number"),
        (
            (BENCH, "0x6a", "200"),
            r":2: sensor address: 200 is out of the span; write from 8 to 119",
        ),
        ((BENCH, "bus: 1", "bus: 1.5"), r":2: sensor bus: '1.5' is no whole number"),
        ((BENCH, "208", "fast"), r":2: sensor rate: 'fast' is no number"),
        ((BENCH, "208", ".nan"), r":2: sensor rate: '.nan' is no number"),
        (
            (BENCH, "208", "1"),
            r":2: sensor rate: 1 is out of the span; write from 20 to 8000 a second",
        ),
        ((BENCH, "vertical", "upright"), r":3: arm plane: 'upright' is none of them; write one of"),
        ((BENCH, "80 mm", "80 mm, bites: maybe"), r":3: arm bites: 'maybe' is neither; write true"),
        ((BENCH, "{plane: vertical, radius: 80 mm}", "80 mm"), r":3: arm: one value is written;"),
        ((BENCH, "radius: 80 mm", "handed: left"), r":3: arm radius: missing"),
        ((BENCH, "buzzer: 18", "buzzer: 99"), r":4: signals buzzer: 99 is out of the span"),
        ((BENCH, "buzzer: 18", "buzzer: 17"), r":4: signals: pin 17 is given twice"),
        ((BENCH, "[5, 6]", "5"), r":4: signals lights: one value is written; write a list"),
        ((BENCH, "[5, 6]", "[5, six]"), r":4: signals lights 2: 'six' is no whole number"),
        # numbers whose size slipped, or that are none
        ((DIE, "75 mm", ".inf"), r":3: centreline_radius: '.inf' is no length"),
        ((DIE, "75 mm", "1:30"), r":3: centreline_radius: '1:30' is no length"),
        ((DIE, "75 mm", "yes"), r":3: centreline_radius: 'yes' is no length"),
        ((DIE, "75 mm", "7e9 mm"), r":3: centreline_radius: 7e9 mm is out of the span"),
        ((DIE, "75 mm", "12 mm"), r":3: centreline_radius: not more than half of for_od"),
        ((DIE, "75 mm", ""), r":3: centreline_radius: nothing is written"),
        ((DIE, "75 mm", "[75]"), r":3: centreline_radius: a list is written; write one value"),
        ((TUBE, "2 mm", "12.5 mm"), r":3: wall: not less than half of the outside diameter"),
        ((TUBE, "2 mm", "-2 mm"), r":3: wall: -2 mm is out of the span; write more than 0"),
        ((TUBE, "235 MPa", "235 GPa"), r":5: yield_strength: 235 GPa is out of the span"),
        ((TUBE, "340", "200"), r":6: tensile_strength: below the yield strength"),
        ((TUBE, "E235+N", r'"\e[2J"'), r":4: grade: '\\x1b\[2J' can't be shown"),
        ((TUBE, "E235+N", r'"a\u202eb"'), r":4: grade: 'a\\u202eb' can't be shown"),
        ((TUBE, "E235+N", "x" * 121), r":4: grade: 'x+\.\.\.' is too long with 121 characters"),
        # bends that can be made
        (
            (JOB, "angle: 90", "angle: 0"),
            r":7: bends 1 angle: 0 is out of the span; write more than 0",
        ),
        ((JOB, "angle: 90", "angle: 181"), r":7: bends 1 angle: 181 is out of the span"),
        ((JOB, "angle: 90", "angle: 121"), r":7: bends 1 angle: 121 deg is above the 120 deg that"),
        ((JOB, "300 mm, a", "0 mm, a"), r":7: bends 1 straight: 0 mm is out of the span"),
        ((JOB, "tolerance: 0.5", "tolerance: -1"), r":5: tolerance: -1 is out of the span"),
        (
            (JOB, "lot: A", "over_chance: 0.02"),
            r":4: over_chance: 0\.02 is out of the span; write from 0\.1 to 50 %",
        ),
        ((JOB, "lot: A", "over_chance: 60 %"), r":4: over_chance: 60 % is out of the span"),
        (
            (JOB, "lot: A", "over_chance: 1 in 50"),
            r":4: over_chance: '1 in 50' is no percentage; write it as 2 %",
        ),
        ((JOB, "lot: A", "over_chanse: 1 %"), r":4: over_chanse: no such key; did you mean over_c"),
        ((JOB, "tail: 300 mm", ""), r":6: bends: written without tail"),
        ((JOB, "tube: mild", "tube: miled"), r":2: tube: no tube 'miled' in .*mean mild\?"),
        ((JOB, "die: round", "die: square"), r":3: die: no die 'square' in .*there are round"),
        ((JOB, "die: round", "die: ../round"), r":3: die: '../round' can't be a name"),
        ((JOB, "die: round", "die: .round"), r":3: die: '.round' can't be a name"),
        ((JOB, "job: knee", "job: elbow"), r":1: job: 'elbow' is written in the file of knee"),
    ],
)
def test_a_wrong_value_is_told_with_its_line_its_key_and_what_would_be_right(
    shop_with: WriteShop, good: dict[str, str], spoilt: tuple[str, str, str], said: str
) -> None:
    file, old, new = spoilt
    path = shop_with({file: good[file].replace(old, new, 1)})
    with pytest.raises(Refusal, match=f"^[^\n]*{file}{said}[^\n]*$"):
        Shop.open(path)


@pytest.mark.parametrize(
    ("ending", "said"),
    [
        ("points: [[0, 0, 0], [400, 0, 0]]", r":5: points: 2 in the list; write 3 to 100"),
        ("points: [[0, 0], [4, 0], [4, 4]]", r":5: points 1: 2 in the list; write 3"),
        (
            "points: [[0, 0, 0], [0, 0, 0], [4, 4, 0]]",
            r":5: points: point 2 lies on a neighbour; take one of the two out",
        ),
        (
            "points: [[0, 0, 0], [4, 0, 0], [9, 0, 0]]",
            r":5: points: the tube runs straight through point 2",
        ),
        (
            "points: [[0, 0, 0], [400, 0, 0], [100, 100, 0]]",
            r":5: points: at point 2 161\.565 deg is above the 120 deg that die round bends to",
        ),
        (
            "points: [[0, 0, 0], [400, 0, 0], [400, 400, 0]]\ntail: 5 mm",
            r":6: tail: written besides points",
        ),
        (
            "points: [[0, 0, 0], [400, 0, 0], [400, 400, 0]]\n"
            "bends: [{straight: 300, angle: 90}]\ntail: 5",
            r":5: points: written besides bends; write one of the two",
        ),
        ("lot: B", r": no bends, points or shape; write one of them"),
        ("bends: []", r":5: bends: 0 in the list; write 1 to 100"),
        ("bends: {straight: 3, angle: 4}", r":5: bends: a table of keys is written; write a list"),
    ],
)
def test_a_job_in_points_or_bends_that_cannot_be_is_told(
    shop_with: WriteShop, ending: str, said: str
) -> None:
    job = f"job: knee\ntube: mild\ndie: round\ntolerance: 0.5\n{ending}\n"
    with pytest.raises(Refusal, match=f"knee.yaml{said}"):
        Shop.open(shop_with({JOB: job}))


def test_tube_of_another_diameter_does_not_go_in_the_die(
    shop_with: WriteShop, good: dict[str, str]
) -> None:
    path = shop_with({TUBE: good[TUBE].replace("25 mm", "1 in")})
    with pytest.raises(Refusal, match=r"knee\.yaml:2: tube: round takes 25 mm tube and mild has"):
        Shop.open(path)


def test_tube_within_the_mill_s_tolerance_goes_in_the_die(
    shop_with: WriteShop, good: dict[str, str]
) -> None:
    assert Shop.open(shop_with({TUBE: good[TUBE].replace("25 mm", "25.1 mm")})).jobs


@pytest.mark.parametrize(("written", "number"), [("010", 10), ("0x0A", 10), ("7", 7)])
def test_a_whole_number_means_what_a_person_reads(
    shop_with: WriteShop, good: dict[str, str], written: str, number: int
) -> None:
    bench = good[BENCH].replace("buzzer: 18", f"buzzer: {written}")
    assert Shop.open(shop_with({BENCH: bench})).bench.signals.buzzer == number


def test_markup_in_free_text_is_kept_as_it_is(shop_with: WriteShop, good: dict[str, str]) -> None:
    tube = good[TUBE].replace("E235+N", "'[@click=app.quit]x[/x]'")
    assert Shop.open(shop_with({TUBE: tube})).tube("mild").grade == "[@click=app.quit]x[/x]"


@pytest.mark.parametrize("name", ["a b", "A-1_2.x", "x" * 64])
def test_a_name_may_hold_letters_digits_space_and_a_few_signs(
    shop_with: WriteShop, good: dict[str, str], name: str
) -> None:
    path = shop_with({f"dies/{name}.yaml": good[DIE].replace("round", name)})
    assert name in Shop.open(path).dies


@pytest.mark.parametrize("name", ["a..b", "x" * 65, "a$b", " a", "\u00e4", "a\x1b[2Jb"])
def test_a_file_whose_name_is_none_is_refused_and_shown_without_harm(
    shop_with: WriteShop, good: dict[str, str], name: str
) -> None:
    path = shop_with({f"dies/{name}.yaml": good[DIE]})
    with pytest.raises(Refusal, match="can't be a name; a name is up to 64 letters") as refused:
        Shop.open(path)
    assert str(refused.value).isprintable()


@pytest.mark.parametrize(
    ("frame", "said"),
    [
        ("{chip: adxl355, address: 0x1d}", "frame_sensor chip: not the one on the arm"),
        ("{chip: lsm6dso, bus: 3, address: 0x6b}", "frame_sensor bus: not the one of sensor"),
        ("{chip: lsm6dso, address: 0x6a}", "frame_sensor address: write both chips' addresses"),
        ("{chip: lsm6dso}", "frame_sensor address: write both chips' addresses"),
    ],
)
def test_a_frames_sensor_must_be_tellable_from_the_arms(
    shop_with: WriteShop, good: dict[str, str], frame: str, said: str
) -> None:
    with pytest.raises(Refusal, match=said):
        Shop.open(shop_with({BENCH: good[BENCH] + f"frame_sensor: {frame}\n"}))


def test_a_frames_sensor_is_the_arms_chip_at_another_address(
    shop_with: WriteShop, good: dict[str, str]
) -> None:
    written = good[BENCH] + "frame_sensor: {chip: lsm6dso, address: 0x6b}\n"
    frame = Shop.open(shop_with({BENCH: written})).bench.frame_sensor
    assert frame is not None
    assert (frame.chip, frame.address) == ("lsm6dso", 0x6B)
