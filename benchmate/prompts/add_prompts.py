"""Ask for a new tube, die or job at the terminal: each answer checked, a step back at any time."""

import sys
from collections.abc import Callable, Mapping

from benchmate.prompts.add_questions import Question, next_question, taken
from benchmate.shop import Shop
from benchmate.shop.folder import FileKind
from benchmate.shop.steels import Steel
from benchmate.units import LengthUnit
from benchmate.wording import printable

BACK = "<"
HELP = "Enter takes what stands in brackets; < goes back a step; Ctrl-C ends it, nothing is written"
Preview = Callable[[Mapping[str, str]], list[str]]


def asked(
    kind: FileKind,
    shop: Shop,
    steels: tuple[Steel, ...],
    unit: LengthUnit,
    *,
    show: Preview,
    given: Mapping[str, str],
) -> dict[str, str] | None:
    """Ask until all is answered; None when the input ends before.

    ``show`` gives lines to print when an answer changed what there is to see; ``given`` is answered
    beforehand and not asked.
    """
    answers: dict[str, str] = dict(given)
    order: list[str] = []
    print(HELP)
    while (question := next_question(kind, shop, steels, answers)) is not None:
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


def _answer(kind: FileKind, shop: Shop, question: Question, unit: LengthUnit) -> str | None:
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
        try:
            return taken(kind, shop, question, written, unit)
        except ValueError as error:
            print(f"  {error}")
