"""``benchmate add job|die|tube``: asks for what the file needs, draws it, writes it."""

import argparse
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from benchmate import places
from benchmate.errors import BenchmateError, Refusal
from benchmate.screen.terminal import on_a_terminal, shows_braille
from benchmate.wording import nearest, printable

if TYPE_CHECKING:
    from benchmate.shop import Shop
    from benchmate.shop.folder import FileKind
    from benchmate.shop.parts import Die, Job, Tube
    from benchmate.shop.steels import Steel
    from benchmate.units import LengthUnit

_BEND = ("straight", "turn", "angle")
_WIDE, _HIGH = 48, 12


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("kind", choices=("job", "die", "tube"), metavar="job|die|tube")
    parser.add_argument("name", nargs="?", metavar="NAME", help="its name, and its file's")
    parser.add_argument(
        "--set",
        dest="values",
        action="append",
        default=[],
        metavar="KEY=VALUE",
        help="answer beforehand; bend=STRAIGHT,ANGLE or bend=STRAIGHT,TURN,ANGLE for each bend",
    )
    parser.add_argument(
        "--points", metavar="FILE", help="job: a .dxf or .csv beside the jobs gives the part"
    )
    parser.add_argument(
        "--text", action="store_true", help="ask in lines of text, not on the screen"
    )
    parser.add_argument(
        "--svg", type=Path, metavar="FILE", help="job: write the part's drawing there, as SVG"
    )
    parser.add_argument("--dry-run", action="store_true", help="show the file, write nothing")


def run(args: argparse.Namespace) -> int:
    """Ask for what isn't given, show the part as it grows, and write the file."""
    from benchmate.prompts.add_prompts import asked
    from benchmate.prompts.add_questions import bends_of, values_of
    from benchmate.shop import Shop
    from benchmate.shop.writing import checked, composed, write_part

    _refuse_svg(args)
    folder = places.shop_folder(args.shop)
    if folder == places.starter_shop() and not args.dry_run and args.shop is None:
        raise Refusal(
            f"{folder} is the starter shop that comes with the program: copy it first, cp -r"
            f" {folder} ~/my-shop, and name yours with --shop"
        )
    shop = Shop.read(folder)[0]
    steels = _steels(shop)
    given, bends = _given(args, shop)
    if args.kind == "tube":
        given = _with_strengths(given, steels)
    if sys.stdin.isatty() or (not args.values and not args.points):
        unit = "mm" if shop.good_bench is None else shop.bench.unit
        braille = shows_braille(sys.stdout, os.environ)
        if not args.text and on_a_terminal(sys.stdin, sys.stdout, os.environ):
            answers = _on_screen(args.kind, shop, steels, unit, given, braille=braille)
        else:
            answers = asked(
                args.kind,
                shop,
                steels,
                unit,
                show=lambda so_far: _picture(
                    args.kind, shop, so_far, _WIDE, _HIGH, braille=braille
                ),
                given=given,
            )
        if answers is None:
            raise Refusal("left before all was answered; nothing was written")
        given, bends = values_of(args.kind, answers), bends_of(answers)
    text = composed(args.kind, given, bends)
    made = checked(shop, args.kind, text)
    if args.dry_run:
        print(text, end="")
        _write_drawing(args.svg, shop, made)
        return 0
    path = write_part(shop, args.kind, given[args.kind], text)
    print(text, end="")
    print(printable(f"wrote {path}", 400))
    _write_drawing(args.svg, shop, made)
    if args.kind == "job":
        print(f"next: benchmate plan {given['job']}")
    return 0


def _refuse_svg(args: argparse.Namespace) -> None:
    """Raise Refusal where no drawing can come of --svg, before anything is asked."""
    if args.svg is None:
        return
    if args.kind != "job":
        raise Refusal(f"--svg draws a job's part; a {args.kind} has none")
    if args.svg.suffix.lower() != ".svg":
        raise Refusal(printable(f"--svg {args.svg}: name a file that ends in .svg", 400))
    if args.svg.exists():
        raise Refusal(printable(f"--svg {args.svg}: there is such a file; take another name", 400))


def _write_drawing(path: Path | None, shop: "Shop", made: "Tube | Die | Job") -> None:
    """Write the drawing of a job's part."""
    from benchmate.layout.plan import centreline_of
    from benchmate.reports.part_views import drawing
    from benchmate.reports.svg import write_svg
    from benchmate.shop.parts import Job

    if path is None or not isinstance(made, Job):
        return
    tube, die = shop.tube(made.tube), shop.die(made.die)
    part = centreline_of(made, tube.od_mm, die.centreline_radius_mm)
    unit = made.unit or ("mm" if shop.good_bench is None else shop.bench.unit)
    write_svg(path, [drawing(part, tube.od_mm, made.job, unit)])
    print(printable(f"wrote {path}", 400))


def _given(args: argparse.Namespace, shop: "Shop") -> tuple[dict[str, str], list[dict[str, str]]]:
    """Give what --set and the other options answer: keys with values, and bends in order."""
    from benchmate.shop.writing import TABLES, in_unit

    unit = "mm" if shop.good_bench is None else shop.bench.unit
    known = [
        *(row.key for row in TABLES[args.kind].rows),
        *(["bend"] if args.kind == "job" else []),
    ]
    values: dict[str, str] = {args.kind: args.name} if args.name else {}
    bends: list[dict[str, str]] = []
    for each in args.values:
        key, equals, value = (part.strip() for part in each.partition("="))
        if not equals or not value:
            raise Refusal(f"--set {printable(each, 60)}: write KEY=VALUE, as in od=25 mm")
        if key not in known:
            near = nearest(key, known)
            may = f"did you mean {near}?" if near else f"one of {', '.join(known)}"
            raise Refusal(f"--set {printable(key, 40)}: a {args.kind} has no such key; {may}")
        if key == "bend":
            bends.append(_bend(value, unit))
        elif key in values:
            raise Refusal(f"--set {key}: given twice; give it once")
        else:
            values[key] = in_unit(key, value, unit)
    if args.points:
        values["points"] = args.points
    if args.values and args.kind == "job":
        values.setdefault("tolerance", "0.5")
    if args.values and args.kind not in values:
        raise Refusal(f"name the {args.kind}: benchmate add {args.kind} NAME --set ...")
    return values, bends


def _bend(written: str, unit: str) -> dict[str, str]:
    from benchmate.shop.writing import in_unit

    parts = [part.strip() for part in written.split(",")]
    if len(parts) not in (2, 3) or not all(parts):
        raise Refusal(
            f"--set bend={printable(written, 40)}: write straight and angle, as in bend=300 mm, 90,"
            " with a turn between them where there is one"
        )
    straight, *turn, angle = parts
    bend = {"straight": in_unit("straight", straight, "mm" if unit == "mm" else "in")}
    return bend | ({"turn": turn[0]} if turn else {}) | {"angle": angle}


def _steels(shop: "Shop") -> "tuple[Steel, ...]":
    from benchmate.shop.steels import read_steels

    own = shop.path / "steels.yaml"
    return read_steels(own if own.exists() else places.starter_shop() / "steels.yaml")


def _with_strengths(given: dict[str, str], steels: "tuple[Steel, ...]") -> dict[str, str]:
    """Fill in the least strengths of a grade that the table knows."""
    from benchmate.shop.steels import steel_named

    known = steel_named(steels, given.get("grade", ""))
    if known is None:
        return given
    least = {
        "grade": known.grade,
        "yield_strength": known.yield_strength,
        "tensile_strength": known.tensile_strength,
    }
    more = {"modulus": known.modulus} if known.modulus else {}
    return least | more | given | {"grade": known.grade}


def _on_screen(
    kind: "FileKind",
    shop: "Shop",
    steels: "tuple[Steel, ...]",
    unit: "LengthUnit",
    given: Mapping[str, str],
    *,
    braille: bool,
) -> dict[str, str] | None:
    """Ask on the screen: the same questions, the same checks."""
    from benchmate.prompts.add_questions import bends_of, next_question, taken, values_of
    from benchmate.screen.pages.add_page import AddApp, AddStep, Form
    from benchmate.screen.remembered import Remembered
    from benchmate.shop.writing import checked, composed

    def asks(answers: Mapping[str, str]) -> AddStep | None:
        question = next_question(kind, shop, steels, answers)
        if question is None:
            return None
        return AddStep(
            question.name, question.words, question.choices, question.given, question.optional
        )

    def take(answers: Mapping[str, str], written: str) -> str:
        question = next_question(kind, shop, steels, answers)
        if question is None:
            raise ValueError("all is answered")
        return taken(kind, shop, question, written, unit)

    def whole(answers: Mapping[str, str]) -> list[str]:
        text = composed(kind, values_of(kind, answers), bends_of(answers))
        checked(shop, kind, text)
        return text.splitlines()

    form = Form(
        title=f"New {kind}",
        asks=asks,
        take=take,
        draw=lambda answers, wide, high: _picture(kind, shop, answers, wide, high, braille=braille),
        whole=whole,
    )
    return AddApp(form, given, Remembered(places.choices_file())).run()


def _picture(
    kind: "FileKind",
    shop: "Shop",
    answers: Mapping[str, str],
    wide: int,
    high: int,
    *,
    braille: bool,
) -> list[str]:
    """Draw the job's part as far as it is answered; nothing while there is nothing to draw."""
    from benchmate.layout.plan import centreline_of
    from benchmate.prompts.add_questions import bends_of, values_of
    from benchmate.reports.part_text import part_lines
    from benchmate.shop.parts import Job
    from benchmate.shop.writing import checked, composed

    if kind != "job" or not {"tube", "die"} <= set(answers):
        return []
    values, bends = values_of(kind, answers), bends_of(answers)
    if bends:
        values.setdefault("tail", "100 mm")
    values = {"job": "part", "tolerance": "0.5"} | values
    try:
        job = checked(shop, "job", composed("job", values, bends))
        if not isinstance(job, Job):
            return []
        tube, die = shop.tube(job.tube), shop.die(job.die)
        part = centreline_of(job, tube.od_mm, die.centreline_radius_mm)
    except BenchmateError:
        return []
    return part_lines(part, wide, high, braille=braille)
