"""``benchmate learned``: what is known of a die, a tube, a lot: table, plot, picture."""

import argparse
import json
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from benchmate import places
from benchmate.errors import Refusal
from benchmate.reports.learned_table import KnownSetup, as_json, as_list, as_text, title_of
from benchmate.units import LengthUnit
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.springback import Bend

_WIDE, _HIGH = 76, 20
_EXPECTED = "name a --die and a --tube of the shop to see what is expected of them"


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    for name in ("bench", "die", "tube", "lot"):
        parser.add_argument(f"--{name}", metavar="NAME", help=f"only setups with this {name}")
    parser.add_argument("--rehearsed", action="store_true", help="from simulated bends, not real")
    parser.add_argument("--plot", action="store_true", help="bends and fitted line in the terminal")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="picture: .svg or .png")
    parser.add_argument("--json", action="store_true", help="one JSON object a setup")
    parser.add_argument(
        "--unit", choices=get_args(LengthUnit), help="how lengths are shown (the bench's else)"
    )


def run(args: argparse.Namespace) -> int:
    """Tell what is known of the setups asked for."""
    found = [known for known in _known(args) if _asked(known, args)]
    if not found and args.die is None and args.tube is None:
        return _nothing(args)
    found = found or [_unbent(args)]
    if args.plot or args.output is not None:
        _only(found)
    if args.output is not None:
        from benchmate.reports.learned_picture import write

        write(args.output, found[0])
    if args.json:
        print("\n".join(json.dumps(as_json(known), allow_nan=False) for known in found))
    elif args.plot:
        from benchmate.reports.learned_plot import plot

        size = shutil.get_terminal_size((_WIDE + 4, _HIGH + 4))
        print("\n".join([title_of(found[0]), *plot(found[0], size.columns, size.lines - 4)]))
    elif args.output is not None:
        print(printable(f"wrote {args.output}", limit=400))
    else:
        columns = shutil.get_terminal_size().columns
        one = len(found) == 1
        print("\n".join(as_text(found[0], args.unit) if one else as_list(found, columns)))
    return 0


def _known(args: argparse.Namespace) -> Iterable[KnownSetup]:
    """Gather the setups of the log, by name, in the order of their first bends."""
    from benchmate.springback import Springback
    from benchmate.store import Log
    from benchmate.store.learning import as_bend, learned

    with Log.open(places.store_file(args.store)) as log:
        knowledge = learned(log, simulated=args.rehearsed)
        numbers = {str(place): number for place, number in log.numbers().items()}
        groups: dict[tuple[str, ...], list[Bend]] = {}
        for logged in log.bends(simulated=args.rehearsed, traces=False):
            bend = as_bend(logged)
            if bend is not None and bend.bench is not None:
                names = (bend.bench.bench, bend.die.die, bend.tube.tube, bend.lot)
                groups.setdefault(names, []).append(bend)
    for bends in groups.values():
        newest = bends[-1]
        if newest.bench is not None:
            yield KnownSetup(
                Springback(newest.bench, newest.die, newest.tube, newest.lot, knowledge),
                tuple(bends),
                numbers,
            )


def _asked(known: KnownSetup, args: argparse.Namespace) -> bool:
    wanted = (args.bench, args.die, args.tube, args.lot)
    return all(want in (None, name) for want, name in zip(wanted, known.names, strict=True))


def _unbent(args: argparse.Namespace) -> KnownSetup:
    """Give a setup of the shop's files that no logged bend was made with."""
    from benchmate.shop import Shop
    from benchmate.springback import Springback
    from benchmate.store import Log
    from benchmate.store.learning import learned

    store = places.store_file(args.store)
    if args.die is None or args.tube is None or args.bench is not None:
        raise Refusal(
            printable(f"{store}: no {_kind(args)} bend of that kind is logged; ", 300)
            + _elsewhere(args)
        )
    shop = Shop.for_bend(places.shop_folder(args.shop), die=args.die, tube=args.tube, angle_deg=1.0)
    with Log.open(store) as log:
        knowledge = learned(log, simulated=args.rehearsed)
    model = Springback(
        shop.bench, shop.die(args.die), shop.tube(args.tube), args.lot or "", knowledge
    )
    return KnownSetup(model, (), {})


def _nothing(args: argparse.Namespace) -> int:
    if not args.json:
        store = places.store_file(args.store)
        print(printable(f"{store}: no {_kind(args)} bend is logged; ", 300) + _elsewhere(args))
    return 0


def _elsewhere(args: argparse.Namespace) -> str:
    """Say where there is something to see: among the bends of the other kind, or in the shop."""
    from benchmate.store import Log

    with Log.open(places.store_file(args.store)) as log:
        others = sum(1 for _ in log.bends(simulated=not args.rehearsed, traces=False))
    if not others:
        return _EXPECTED
    kind, how = ("real", "leave --rehearsed out") if args.rehearsed else (
        "rehearsed", "--rehearsed shows what they taught"
    )  # fmt: skip
    there = "there is 1" if others == 1 else f"there are {others}"
    return f"{there} {kind}: {how}; or {_EXPECTED}"


def _kind(args: argparse.Namespace) -> str:
    return "rehearsed" if args.rehearsed else "real"


def _only(found: Sequence[KnownSetup]) -> None:
    if len(found) > 1:
        setups = "; ".join(
            f"--die {die} --tube {tube} --lot {lot or repr(lot)}" for _, die, tube, lot in
            (known.names for known in found)
        )  # fmt: skip
        raise Refusal(printable(f"a plot shows one setup; there are: {setups}", 600))
