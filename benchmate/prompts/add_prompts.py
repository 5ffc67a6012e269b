"""Ask for a new tube, die or job at the terminal: each answer checked, a step back at any time."""

import sys
from collections.abc import Callable, Mapping

from benchmate.prompts.add_questions import Question, questions
from benchmate.shop import Shop
from benchmate.shop.drawing_files import read_points
from benchmate.shop.folder import FOLDERS, Kind
from benchmate.shop.nodes import UnreadableError
from benchmate.shop.steels import Steel
from benchmate.shop.writing import check_value, in_unit
from benchmate.units import LengthUnit
from benchmate.wording import printable

BACK = "<"
HELP = "Enter takes what stands in brackets; < goes back a step; Ctrl-C ends it, nothing is written"
Shown = Callable[[Mapping[str, str]], list[str]]


def asked(
    kind: Kind,
    shop: Shop,
    steels: tuple[Steel, ...],
    unit: LengthUnit,
    *,
    show: Shown,
    given: Mapping[str, str],
) -> dict[str, str] | None:
    """Ask until all is answered; None when the input ends before.

    ``show`` gives lines to print when an answer changed what there is to see; ``given`` is answered
    beforehand and not asked.
    """
    answers: dict[str, str] = dict(given)
    order: list[str] = []
    print(HELP)
    while (question := _next(kind, shop, steels, answers)) is not None:
        answer = _answer(kind, shop, question, unit)
        if answer is None:
            return None
        if answer == BACK:
            if order:
                del answers[order.pop()]
            else:
                print("  this is the first question")
            continue
        before = show(answers)
        answers[question.name] = answer
        order.append(question.name)
        if (lines := show(answers)) != before:
            print("\n".join(["", *lines, ""]))
    return answers


def _next(
    kind: Kind, shop: Shop, steels: tuple[Steel, ...], answers: Mapping[str, str]
) -> Question | None:
    open_ones = (
        each for each in questions(kind, shop, steels, answers) if each.name not in answers
    )
    return next(open_ones, None)


def _answer(kind: Kind, shop: Shop, question: Question, unit: LengthUnit) -> str | None:
    """Give the answer as it is to be written, BACK, or None when the input ends."""
    for number, choice in enumerate(question.choices, start=1):
        print(f"  {number:>2}  {printable(choice, 70)}")
    hint = f" [{question.given}]" if question.given else " [none]" if question.optional else ""
    while True:
        sys.stdout.write(f"{question.words}{hint}: ")
        sys.stdout.flush()
        line = sys.stdin.readline()
        if not line:
            return None
        written = line.strip()
        if written == BACK:
            return BACK
        if written.isdigit() and question.choices and int(written) <= len(question.choices):
            written = question.choices[int(written) - 1] if int(written) else ""
        written = written or question.given
        if not written and question.optional:
            return ""
        try:
            return _taken(kind, shop, question, in_unit(question.key, written, unit))
        except ValueError as error:
            print(f"  {error}")


def _taken(kind: Kind, shop: Shop, question: Question, written: str) -> str:
    """Give the answer back; ValueError says why it can't be."""
    if not written:
        raise ValueError("nothing is written; write a value")
    if question.key in ("tube", "die", "") and question.choices and written not in question.choices:
        raise ValueError(f"'{printable(written, 40)}' is none of these; give a number or a name")
    if question.key in ("tube", "die") and kind == "job" and not question.choices:
        raise ValueError(f"there is no {question.key} for it on the rack: add one first")
    if question.key == kind and (shop.path / FOLDERS[kind] / f"{written}.yaml").exists():
        raise ValueError(f"there is a {kind} '{printable(written, 40)}' already; take another name")
    if question.key == "points":
        try:
            read_points(shop.path / FOLDERS[kind] / written)
        except UnreadableError as error:
            raise ValueError(f"{printable(written, 60)}: {error.says}") from error
    elif question.row is not None:
        check_value(question.row, written)
    return written
