"""An inspection is asked for station by station; what can't be is asked again."""

from argparse import Namespace

from benchmate.prompts.die_prompts import ask_inspection
from benchmate.shop.parts import Die
from benchmate.shop.tooling import Bolts

DIE = Die(
    die="hub",
    for_od_mm=25.0,
    centreline_radius_mm=75.0,
    max_angle_deg=180.0,
    bolts=(Bolts(size="M12", grade="8.8", count=4),),
)


def answered(*answers: str) -> tuple[Namespace, list[str]]:
    given, asked = list(answers), []

    def ask(question: str) -> str:
        asked.append(question)
        return given.pop(0)

    args = Namespace()
    ask_inspection(args, DIE, "mm", ask)
    assert not given
    return args, asked


def test_what_was_measured_is_taken_as_it_was_written():
    args, asked = answered("25.2", "25.3 mm", "0.994 in", "1", "none", "hub.jpg", "")
    assert args.groove == ["25.2", "25.3 mm", "0.994 in"]
    assert (args.torqued, args.moved, args.cracks) == (True, 1, "none")
    assert (args.photo, args.note) == ("hub.jpg", "")
    assert "at the start of bend" in asked[0]


def test_a_reading_in_the_wrong_unit_is_told_and_asked_again():
    args, asked = answered("0.994", "", "25.2", "", "", "9", "", "0", "", "", "")
    assert args.groove == ["25.2"]
    assert "write 0.994 in" in asked[1]
    assert any("from 0 to 4" in question for question in asked)
    assert args.moved == 0


def test_nothing_answered_is_nothing_found():
    args, _ = answered("", "", "", "", "", "", "")
    assert (args.groove, args.torqued, args.moved) == ([], False, None)
    assert args.cracks is None
