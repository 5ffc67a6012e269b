"""``benchmate trial DIE``: measurements of trial pieces in; start offset, radius, stretch out."""

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from benchmate import places
from benchmate.errors import Refusal
from benchmate.layout.trial_measurements import MEASUREMENTS
from benchmate.prompts.trial_input import as_file, from_file, measured, piece_of, read
from benchmate.units import LengthUnit
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.trial_fit import Accuracy, TrialAnswer, TrialPiece
    from benchmate.prompts.trial_prompts import TrialSetup
    from benchmate.shop import Shop
    from benchmate.shop.parts import Die, Tube


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("die", metavar="DIE", help="name of the die")
    parser.add_argument("--tube", help="name of the tube, where the die takes several")
    for taken in MEASUREMENTS:
        parser.add_argument(f"--{taken.word}", metavar="M", help=taken.what)
    parser.add_argument("--file", type=Path, help="YAML file with pieces: a list of such keys")
    parser.add_argument("--tape", metavar="L", help="how far off a length may be (one sd, 0.5 mm)")
    parser.add_argument(
        "--protractor", metavar="DEG", help="how far off an angle may be (one sd, 0.15 deg)"
    )
    parser.add_argument(
        "--fresh", action="store_true", help="leave out the pieces that were kept before"
    )
    parser.add_argument("--dry-run", action="store_true", help="work it out, keep nothing")
    parser.add_argument("--json", action="store_true", help="one JSON object, lengths in mm")
    parser.add_argument(
        "--unit",
        choices=get_args(LengthUnit),
        help="how lengths are shown, and what a bare number is in (the shop's else)",
    )


def run(args: argparse.Namespace) -> int:
    """Take pieces from options, file or prompts; solve, tell and keep."""
    from benchmate.layout.trial_fit import implausible
    from benchmate.prompts.trial_prompts import TrialSetup, asked
    from benchmate.reports.trial_table import as_json, compared, suggested, told
    from benchmate.runtime import trial_store
    from benchmate.shop import Shop
    from benchmate.store import Log, Store
    from benchmate.store.learning import model_for

    shop = Shop.open(places.shop_folder(args.shop))
    die = shop.die(args.die)
    tube = _tube(shop, die, args.tube)
    unit = args.unit or shop.bench.unit
    path = places.store_file(args.store)
    new, typed = _given(args, unit), []
    with Log.open(path) as log:
        model = model_for(log, shop.bench, die, tube, "", simulated=False)
        before = () if args.fresh else trial_store.pieces_of(log, die, tube)
    trial = TrialSetup(
        die=die,
        tube=tube,
        radius_mm=model.free_radius_mm()[0],
        accuracy=_accuracy(args, unit),
        unit=unit,
        before=before,
    )
    if not new:
        print("\n".join(suggested(trial.wanted(), die, tube, unit)))
        new = typed = asked(trial) if sys.stdin.isatty() else []
    if not new:
        return 0
    answer = _solved(trial, new)
    pieces = (*before, *new)
    wrong = answer.outlier or implausible(answer, trial.radius_mm, unit)
    if args.json:
        print(json.dumps(as_json(answer, die, tube, len(pieces)) | {"improbable": wrong}))
    elif not wrong:
        print("\n".join(told(answer, (die, tube), len(pieces), unit)))
    elif answer.outlier:
        # Figures that rest on a wrong measurement are no figures; what clashes is worth a look.
        print("\n".join(compared(answer, unit)))
    if wrong:
        again = "\n".join(["", "What you typed, for --file:", *as_file(typed, unit)])
        raise Refusal(f"{wrong}; measure again, nothing was kept{again if typed else ''}")
    if not args.dry_run:
        with Store.open(path) as store, Log.open(path) as log:
            opened = trial.radius_mm / die.centreline_radius_mm
            trial_store.keep(store, log, (die, tube), pieces, (answer, trial.accuracy, opened))
    return 0


def _solved(trial: "TrialSetup", new: "list[TrialPiece]") -> "TrialAnswer":
    from benchmate.layout.trial_fit import TooLittle

    try:
        return trial.solved(new)
    except TooLittle as too_little:
        advice = "\n".join(trial.advice(new))
        how = "" if trial.lacking(new) else "\n(several pieces in one go: --file)"
        raise Refusal(f"{too_little}; nothing was kept\n{advice}{how}") from too_little


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


def _accuracy(args: argparse.Namespace, unit: LengthUnit) -> "Accuracy":
    from benchmate.layout.trial_fit import Accuracy

    usual = Accuracy()
    tape = usual.length_mm if args.tape is None else _off("--tape", args.tape, unit)
    protractor = (
        usual.angle_deg if args.protractor is None else _off("--protractor", args.protractor, None)
    )
    return Accuracy(length_mm=tape, mark_mm=tape, angle_deg=protractor)


def _off(option: str, written: str, unit: LengthUnit | None) -> float:
    off = read(option, written, unit)
    if off <= 0:
        raise Refusal(f"{option}: {printable(written)} is no bound; give one above 0")
    return off


def _given(args: argparse.Namespace, unit: LengthUnit) -> "list[TrialPiece]":
    """Give the pieces of the file and the one of the options."""
    written = {
        taken.word: value
        for taken in MEASUREMENTS
        if (value := getattr(args, taken.word.replace("-", "_"))) is not None
    }
    pieces = from_file(args.file, unit) if args.file is not None else []
    if written:
        if "angle" not in written:
            raise Refusal("--angle is missing: give the bend angle that the piece came to")
        pieces.append(
            piece_of({word: measured(word, value, unit) for word, value in written.items()})
        )
    return pieces
