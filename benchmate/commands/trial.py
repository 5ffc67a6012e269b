"""``benchmate trial DIE``: measurements of trial pieces in; start offset, radius, stretch out."""

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, get_args

from benchmate import places, units
from benchmate.errors import Refusal
from benchmate.units import LengthUnit, show_length
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.suggest import Suggestion
    from benchmate.layout.trial import Accuracy, Piece, TrialAnswer
    from benchmate.shop import Shop
    from benchmate.shop.parts import Die, Tube


class Taken(NamedTuple):
    """One thing that can be measured of a piece: its option, field and words."""

    word: str
    field: str
    what: str


MEASUREMENTS = (
    Taken("angle", "angle_deg", "bend angle, by protractor"),
    Taken("mark", "mark_mm", "first end to layout mark, before bending"),
    Taken("cut", "cut_length_mm", "cut length of the straight tube"),
    Taken("leg", "leg_mm", "first end to where the legs' outsides would meet (up to 150 deg)"),
    Taken("far-leg", "far_leg_mm", "the same from the other end"),
    Taken("back", "back_mm", "first end to the back of the bend (90 deg or more)"),
    Taken("far-back", "far_back_mm", "the same from the other end"),
    Taken("width", "width_mm", "over the outsides where the bend ends (a U)"),
    Taken("gap", "gap_mm", "between the insides where the bend ends (a U)"),
)


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("die", metavar="DIE", help="name of the die")
    parser.add_argument("--tube", help="name of the tube, where the die takes several")
    for taken in MEASUREMENTS:
        parser.add_argument(f"--{taken.word}", metavar="M", help=taken.what)
    parser.add_argument("--file", type=Path, help="YAML file with pieces: a list of such keys")
    parser.add_argument("--tape", metavar="MM", help="how far off a length may be (one sd, 0.5 mm)")
    parser.add_argument(
        "--protractor", metavar="DEG", help="how far off an angle may be (one sd, 0.15 deg)"
    )
    parser.add_argument(
        "--fresh", action="store_true", help="leave out the pieces that were kept before"
    )
    parser.add_argument("--dry-run", action="store_true", help="work it out, keep nothing")
    parser.add_argument("--json", action="store_true", help="one JSON object, lengths in mm")
    parser.add_argument("--unit", choices=get_args(LengthUnit), help="how lengths are shown")


def run(args: argparse.Namespace) -> int:
    """Take pieces from options, file or prompts; solve, tell and keep."""
    from benchmate.commands import trials
    from benchmate.layout.suggest import suggest
    from benchmate.layout.trial import solve
    from benchmate.shop import Shop
    from benchmate.store import Log, Store
    from benchmate.store.teaching import model_for

    shop = Shop.open(places.shop_folder(args.shop))
    die = shop.die(args.die)
    tube = _tube(shop, die, args.tube)
    unit = args.unit or shop.bench.unit
    path = places.store_file(args.store)
    with Log.open(path) as log:
        model = model_for(log, shop.bench, die, tube, "", simulated=False)
        before = () if args.fresh else trials.pieces_of(log, die, tube)
    radius = model.free_radius_mm()[0]
    accuracy = _accuracy(args)
    new = _given(args)
    if not new:
        wanted = suggest(die, tube, radius, done=before, accuracy=accuracy)
        print("\n".join(_suggested(wanted, die, tube, unit)))
        new = _asked() if sys.stdin.isatty() else []
    if not new:
        return 0
    pieces = (*before, *new)
    answer = solve(pieces, tube.od_mm, radius, accuracy)
    if args.json:
        print(json.dumps(_as_json(answer, die, tube, len(pieces))))
    else:
        print("\n".join(_told(answer, (die, tube), len(pieces), unit)))
    if answer.improbable:
        raise Refusal(f"{answer.improbable}; measure again, nothing was kept")
    if not args.dry_run:
        with Store.open(path) as store, Log.open(path) as log:
            opened = radius / die.centreline_radius_mm
            trials.keep(store, log, (die, tube), pieces, (answer, accuracy, opened))
    return 0


def _tube(shop: "Shop", die: "Die", asked: str | None) -> "Tube":
    if asked is not None:
        return shop.tube(asked)
    fitting = [tube for tube in shop.tubes.values() if abs(tube.od_mm / die.for_od_mm - 1) < 0.01]
    if len(fitting) == 1:
        return fitting[0]
    if not fitting:
        raise Refusal(f"no tube here fits die {die.die}; write its file, or name one with --tube")
    names = ", ".join(sorted(tube.tube for tube in fitting))
    raise Refusal(printable(f"which tube is the piece of? give --tube, one of {names}", 400))


def _accuracy(args: argparse.Namespace) -> "Accuracy":
    from benchmate.layout.trial import Accuracy

    usual = Accuracy()
    tape = _read("--tape", args.tape, units.length_mm) or usual.length_mm
    protractor = _read("--protractor", args.protractor, units.angle_deg) or usual.angle_deg
    return Accuracy(length_mm=tape, mark_mm=tape, angle_deg=protractor)


def _given(args: argparse.Namespace) -> "list[Piece]":
    """Give the pieces of the file and the one of the options."""
    written = {
        taken.word: value
        for taken in MEASUREMENTS
        if (value := getattr(args, taken.word.replace("-", "_"))) is not None
    }
    pieces = _from_file(args.file) if args.file is not None else []
    if written:
        if "angle" not in written:
            raise Refusal("--angle is missing: give the bend angle that the piece came to")
        pieces.append(_piece({word: _measured(word, value) for word, value in written.items()}))
    return pieces


def _from_file(path: Path) -> "list[Piece]":
    """Read a YAML list of pieces, each with the options' words as keys (far_leg for far-leg)."""
    from benchmate.shop.nodes import UnreadableError, read_nodes
    from benchmate.shop.reading import Report, Row, Table, list_of, table_of, value_of

    table: Table[Any] = Table(
        dict,
        tuple(
            Row(
                taken.word.replace("-", "_"),
                taken.word,
                value_of(units.angle_deg if taken.word == "angle" else units.length_mm),
                needed=taken.word == "angle",
            )
            for taken in MEASUREMENTS
        ),
    )
    report = Report(printable(str(path), limit=400))
    try:
        found = list_of(table_of(table), 1, 20)(read_nodes(path), "piece", report)
    except UnreadableError as error:
        report.say(error.line, "", error.says)
    if report.problems or found is None:
        raise Refusal("\n".join(map(str, report.problems)))
    return [_piece(values) for values in found]


def _asked() -> "list[Piece]":
    """Ask at the terminal, piece by piece; an empty answer means that it wasn't measured."""
    pieces = []
    print("lengths in mm, or as 7/8 in; an empty answer: not measured; an empty bend angle: done")
    while (angle := _answer(MEASUREMENTS[0])) is not None:
        values = {"angle": angle}
        for taken in MEASUREMENTS[1:]:
            if _suits(taken.word, angle) and (value := _answer(taken)) is not None:
                values[taken.word] = value
        pieces.append(_piece(values))
    return pieces


def _answer(taken: Taken) -> float | None:
    while True:
        try:
            written = input(f"  {taken.what}: ").strip()
        except EOFError:
            return None
        if not written:
            return None
        try:
            return _measured(taken.word, written)
        except Refusal as refusal:
            print(f"  {refusal}")


def _suits(word: str, angle_deg: float) -> bool:
    from benchmate.layout.trial import fits

    return fits(_field(word), angle_deg)


def _measured(word: str, written: str) -> float:
    value = _read(f"--{word}", written, units.angle_deg if word == "angle" else units.length_mm)
    if value is None or value <= 0:
        raise Refusal(f"--{word}: {printable(written)} is no measurement; give one above 0")
    return value


def _read(option: str, written: str | None, parse: Callable[[str], float]) -> float | None:
    if written is None:
        return None
    try:
        return parse(written)
    except ValueError as error:
        raise Refusal(f"{option}: {error}") from error


def _piece(values: dict[str, float]) -> "Piece":
    from benchmate.layout.trial import Piece

    return Piece(**{_field(word): value for word, value in values.items()})


def _field(word: str) -> str:
    return next(taken.field for taken in MEASUREMENTS if taken.word == word)


def _suggested(wanted: "Suggestion", die: "Die", tube: "Tube", unit: LengthUnit) -> list[str]:
    measure = [taken for taken in MEASUREMENTS if taken.field in wanted.measure]
    return [
        printable(f"die {die.die}, tube {tube.tube}: the piece that tells most", limit=200),
        f"  cut {show_length(wanted.cut_length_mm, unit)},"
        f" mark at {show_length(wanted.mark_mm, unit)}, bend to {wanted.angle_deg:g} deg",
        "  then measure:",
        *(f"    --{taken.word:9} {taken.what}" for taken in measure),
        f"  with these the start offset is known to {wanted.start_offset_u_mm:.1f} mm,"
        f" the radius to {wanted.free_radius_u_mm:.1f} mm (one standard deviation)",
    ]


def _told(
    answer: "TrialAnswer", setup: "tuple[Die, Tube]", pieces: int, unit: LengthUnit
) -> list[str]:
    die, tube = setup

    def length(name: str, value: float, u: float) -> str:
        return f"  {name:26} {show_length(value, unit)} +- {show_length(2 * u, unit)}"

    offset, radius, stretch = answer.start_offset_mm, answer.free_radius_mm, answer.stretch
    count = f"{pieces} piece{'s' if pieces > 1 else ''}"
    return [
        printable(f"die {die.die}, tube {tube.tube}, {count} (+- holds 19 times in 20)", limit=200),
        length("start offset", offset.value, offset.u),
        length("radius after springback", radius.value, radius.u),
        f"  {'stretch':26} {100 * stretch.value:.2f} % +- {200 * stretch.u:.2f} %"
        if stretch
        else f"  {'stretch':26} not told by these pieces, taken as 0 +- 2 %",
        *_compared(answer),
    ]


def _compared(answer: "TrialAnswer") -> list[str]:
    """Set each measurement that others check beside what they make it."""
    checked = [each for each in answer.residuals if each.normalised]
    if not checked:
        return ["  nothing here checks anything else: measure more, or bend a second piece"]
    return [
        "  piece  measurement              measured  the others say",
        *(
            f"  {each.piece:5}  {each.what:22} {each.measured:10.1f} {each.others:15.1f}"
            for each in checked
        ),
    ]


def _as_json(answer: "TrialAnswer", die: "Die", tube: "Tube", pieces: int) -> dict[str, Any]:
    return {
        "die": die.die,
        "tube": tube.tube,
        "pieces": pieces,
        "start_offset_mm": answer.start_offset_mm.value,
        "start_offset_u_mm": answer.start_offset_mm.u,
        "free_radius_mm": answer.free_radius_mm.value,
        "free_radius_u_mm": answer.free_radius_mm.u,
        "stretch": answer.stretch.value if answer.stretch else None,
        "stretch_u": answer.stretch.u if answer.stretch else None,
        "residuals": [each._asdict() for each in answer.residuals],
        "improbable": answer.improbable,
    }
