"""What is asked for a new tube, die or job, one thing after the other, from the answers so far."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from benchmate.shop import Shop
from benchmate.shop.field_readers import Row
from benchmate.shop.folder import Kind
from benchmate.shop.shape_tables import SHAPES
from benchmate.shop.steels import Steel, steel_named
from benchmate.shop.tables import BEND, misfits
from benchmate.shop.writing import TABLES

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


def questions(
    kind: Kind, shop: Shop, steels: tuple[Steel, ...], answers: Answers
) -> Iterator[Question]:
    """Give the questions in order; those that later ones hang on must be answered first."""
    rows = {row.key: row for row in TABLES[kind].rows}

    def ask(key: str, words: str, **more: object) -> Question:
        return Question(name=key, key=key, words=words, row=rows[key], **more)  # type: ignore[arg-type]

    yield ask(kind, f"name of the {kind} (its file's too)")
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


def values_of(kind: Kind, answers: Answers) -> dict[str, str]:
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
