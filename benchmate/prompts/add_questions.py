"""What is asked for a new tube, die or job, one thing after the other, from the answers so far."""

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from benchmate.shop import Shop
from benchmate.shop.drawing_files import read_points
from benchmate.shop.field_readers import Row
from benchmate.shop.folder import FOLDERS, FileKind
from benchmate.shop.nodes import UnreadableError
from benchmate.shop.shape_tables import SHAPES
from benchmate.shop.steels import Steel, steel_named
from benchmate.shop.tables import BEND, misfits
from benchmate.shop.writing import TABLES, check_value, in_unit
from benchmate.units import LengthUnit
from benchmate.wording import printable

Answers = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing to ask: what it is called in the answers, its words, and what it may be."""

    name: str
    words: str
    key: str
    """The key that the answer is written under."""
    row: Row | None = None
    """What reads the answer; None: only a choice."""
    choices: tuple[str, ...] = ()
    given: str = ""
    """What an empty answer means."""
    optional: bool = False

    def closed(self, kind: FileKind) -> bool:
        """Say whether nothing but one of the choices can be the answer."""
        return bool(self.choices) and (not self.key or (kind == "job" and self.key != "grade"))


def questions(
    kind: FileKind, shop: Shop, steels: tuple[Steel, ...], answers: Answers
) -> Iterator[Question]:
    """Give the questions in order; those that later ones hang on must be answered first."""
    rows = {row.key: row for row in TABLES[kind].rows}

    def ask(key: str, words: str, **more: object) -> Question:
        return Question(name=key, key=key, words=words, row=rows[key], **more)  # type: ignore[arg-type]

    yield ask(kind, f"name of the {kind} (its file's too)", given=_free_name(kind, shop))
    if kind == "tube":
        yield ask("od", "outside diameter")
        yield ask("wall", "wall, or its gauge as 14 ga")
        yield ask("grade", "steel", choices=tuple(steel.grade for steel in steels))
        known = steel_named(steels, answers.get("grade", ""))
        if known is not None:
            source = f"; least by {known.standard}, from memory: the certificate is better"
        else:
            source = "; on the certificate, or in the steel's standard"
        yield ask(
            "yield_strength", f"yield strength{source}", given=known.yield_strength if known else ""
        )
        yield ask(
            "tensile_strength", "tensile strength", given=known.tensile_strength if known else ""
        )
        yield ask("stock", "longest bar that you have of it", optional=True)
    elif kind == "die":
        yield ask("for_od", "outside diameter of the tube that it takes")
        yield ask("centreline_radius", "radius to the middle of the tube")
        yield ask("max_angle", "how far it bends, degrees")
        yield ask("start_offset", "from the mark to the start of bend, if measured", optional=True)
        yield ask("slack", "slack in degrees, if measured", optional=True)
    else:
        yield from _job(shop, answers, rows)


def next_question(
    kind: FileKind, shop: Shop, steels: tuple[Steel, ...], answers: Answers
) -> Question | None:
    """Give the first question that isn't answered; None: all are."""
    open_ones = (
        each for each in questions(kind, shop, steels, answers) if each.name not in answers
    )
    return next(open_ones, None)


def taken(kind: FileKind, shop: Shop, question: Question, written: str, unit: LengthUnit) -> str:
    """Give an answer as it is to be written; a number stands for its choice, "" for what is given.

    ValueError, in a sentence, for what can't be the answer.
    """
    written = written.strip()
    if written.isdecimal() and question.choices and int(written) <= len(question.choices):
        written = question.choices[int(written) - 1] if int(written) else ""
    written = written or question.given
    if not written and question.optional:
        return ""
    written = in_unit(question.key, written, unit)
    if not written:
        raise ValueError("nothing is written; write a value")
    if question.key in ("tube", "die") and kind == "job" and not question.choices:
        raise ValueError(f"there is no {question.key} for it on the rack: add one first")
    if question.closed(kind) and written not in question.choices:
        raise ValueError(f"'{printable(written, 40)}' is none of these; give a number or a name")
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


def _free_name(kind: FileKind, shop: Shop) -> str:
    """Give a name that no file has yet, for whoever has no better one at hand."""
    folder = shop.path / FOLDERS[kind]
    return next(
        name
        for number in itertools.count(1)
        if not (folder / f"{(name := f'{kind}-{number}')}.yaml").exists()
    )


def _job(shop: Shop, answers: Answers, rows: Mapping[str, Row]) -> Iterator[Question]:
    def ask(key: str, words: str, **more: object) -> Question:
        return Question(name=key, key=key, words=words, row=rows[key], **more)  # type: ignore[arg-type]

    yield ask("tube", "tube on the rack", choices=tuple(sorted(shop.tubes)))
    tube = shop.tubes.get(answers.get("tube", ""))
    dies = [
        name for name, die in sorted(shop.dies.items()) if tube is None or not misfits(tube, die)
    ]
    yield ask("die", "die that takes it", choices=tuple(dies))
    yield ask("lot", "lot of the tube", optional=True)
    yield ask("tolerance", "tolerance of the bend angle, degrees", given="0.5")
    ways = ("straights and angles", "a drawing's points (.dxf or .csv)", *SHAPES)
    yield Question(name="way", key="", words="the part is given by", choices=ways)
    way = answers.get("way", "")
    if way == ways[1]:
        yield ask("points", "file beside the jobs, as gate.dxf")
    elif way in SHAPES:
        for row in SHAPES[way].rows:
            yield Question(
                name=f"{way} {row.key}",
                key=row.key,
                words=row.key.replace("_", " "),
                row=row,
                optional=not row.needed,
            )
    elif way == ways[0]:
        yield from _bends(answers)
        yield ask("tail", "straight after the last bend")
    yield ask("count", "how many to make", given="1")


def _bends(answers: Answers) -> Iterator[Question]:
    straight, angle, turn = BEND.rows
    number = 0
    while True:
        number += 1
        words = f"bend {number}: straight before it" + (
            "" if number == 1 else ", empty: no more bends"
        )
        yield Question(
            name=f"straight {number}",
            key="straight",
            words=words,
            row=straight,
            optional=number > 1,
        )
        if not answers.get(f"straight {number}"):
            return
        if number > 1:
            yield Question(
                name=f"turn {number}",
                key="turn",
                words=f"bend {number}: turn of the tube, degrees, clockwise above 0",
                row=turn,
                given="0",
            )
        yield Question(
            name=f"angle {number}", key="angle", words=f"bend {number}: angle", row=angle
        )


def bends_of(answers: Answers) -> list[dict[str, str]]:
    """Give the bends that are answered so far, each by its keys."""
    found = []
    for number in range(1, 101):
        if not answers.get(f"straight {number}") or not answers.get(f"angle {number}"):
            break
        bend = {"straight": answers[f"straight {number}"]}
        if answers.get(f"turn {number}", "0") != "0":
            bend["turn"] = answers[f"turn {number}"]
        found.append(bend | {"angle": answers[f"angle {number}"]})
    return found


def values_of(kind: FileKind, answers: Answers) -> dict[str, str]:
    """Give what is to be written by the file's keys; bends are ``bends_of``'s."""
    keys = [row.key for row in TABLES[kind].rows]
    values = {key: answers[key] for key in keys if answers.get(key)}
    if kind == "job":
        if values.get("count") == "1":
            del values["count"]
        way = answers.get("way", "")
        if way in SHAPES:
            given = {
                row.key: answers[f"{way} {row.key}"]
                for row in SHAPES[way].rows
                if answers.get(f"{way} {row.key}")
            }
            inside = ", ".join(f"{key}: {value}" for key, value in given.items())
            values["shape"] = f"{{{way}: {{{inside}}}}}"
    return values
