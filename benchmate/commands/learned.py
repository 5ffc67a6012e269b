"""``benchmate learned``: what the bench believes of a die, a tube, a lot: table, plot, picture."""

import argparse
import json
import shutil
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from benchmate import places
from benchmate.errors import Refusal
from benchmate.units import LengthUnit, show_about, show_length
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.springback import Bend, Springback
    from benchmate.springback.belief import Belief, Curve, Figure

_WIDE, _HIGH = 76, 20
_EXPECTED = "name a --die and a --tube of the shop to see what is expected of them"


@dataclass(frozen=True, slots=True)
class Known:
    """One setup with its bends and what all bends together say of it."""

    model: "Springback"
    bends: "tuple[Bend, ...]"
    numbers: Mapping[str, int]
    """What the log's list calls each bend that it names."""

    @property
    def names(self) -> tuple[str, str, str, str]:
        """Give bench, die, tube and lot."""
        setup = self.model
        return setup.bench.bench, setup.die.die, setup.tube.tube, setup.lot


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
        from benchmate.commands.learned_picture import write

        write(args.output, found[0])
    if args.json:
        print("\n".join(json.dumps(as_json(known), allow_nan=False) for known in found))
    elif args.plot:
        from benchmate.commands.learned_plot import plot

        size = shutil.get_terminal_size((_WIDE + 4, _HIGH + 4))
        print("\n".join([_title(found[0]), *plot(found[0], size.columns, size.lines - 4)]))
    elif args.output is not None:
        print(printable(f"wrote {args.output}", limit=400))
    else:
        columns = shutil.get_terminal_size().columns
        one = len(found) == 1
        print("\n".join(as_text(found[0], args.unit) if one else as_list(found, columns)))
    return 0


def points(known: Known, curve_of: "Belief") -> list[tuple[float, float, bool]]:
    """Give each bend's last angle and springback, and whether it is doubted. Degrees."""
    slack = curve_of.slack_deg.value
    doubted = {doubt.name for doubt in curve_of.doubts}
    found = []
    for bend in known.bends:
        peak, rest, measured = max(bend.hits, key=lambda hit: hit[0])
        if not known.model.bench.arm.follows_tube:
            rest = None
        if measured is None and rest is None:
            continue
        angle = measured if measured is not None else (rest or 0.0) - slack
        springback = peak - rest if rest is not None else peak - slack - angle
        found.append((angle, springback, bend.name in doubted))
    return found


def curve_for(known: Known, told: "Belief") -> "Curve":
    """Give the fitted line over all angles that were bent, or that the die can."""
    highest = max([angle for angle, _, _ in points(known, told)], default=0.0)
    end = max(min(known.model.die.max_angle_deg, 200.0), highest, 20.0)
    return known.model.curve([end * step / 60 for step in range(61)])


def as_json(known: Known) -> dict[str, Any]:
    """Give the belief as plain data: degrees, mm, ratios."""
    bench, die, tube, lot = known.names
    belief = known.model.belief()
    names = {"bench": bench, "die": die, "tube": tube, "lot": lot, "bends": len(known.bends)}
    plain = asdict(belief)
    for doubt in plain["doubts"]:
        doubt["number"] = known.numbers.get(doubt["name"])
    return names | plain


def as_list(found: Sequence[Known], columns: int = 80) -> list[str]:
    """Give one line a setup; names are cut where the terminal is too narrow for them."""
    rows: list[tuple[str, ...]] = [("die", "tube", "lot", "bends", "slack", "at 90 deg", "doubted")]
    for known in found:
        _, *names = known.names
        belief = known.model.belief()
        rows.append(
            (
                *(printable(name, 60) or "-" for name in names),
                str(len(known.bends)),
                _pair(belief.slack_deg, ""),
                _pair(belief.springback_90_deg, ""),
                str(len(belief.doubts) or "-"),
            )
        )
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    while sum(widths) + 2 * len(widths) > columns and max(widths[:3]) > 6:
        widths[widths.index(max(widths[:3]))] -= 1
    lines = [
        "  ".join(cell[:width].ljust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
    return [
        *(line.rstrip() for line in lines),
        "",
        "slack, and springback of 90 degrees, give or take what holds 19 times in 20;",
        "name a die, tube or lot to see more",
    ]


def as_text(known: Known, unit: LengthUnit | None = None) -> list[str]:
    """Give all that is believed of one setup, line by line; lengths in the bench's unit unless."""
    belief = known.model.belief()
    radius = belief.free_radius_mm
    unit = unit or known.model.bench.unit
    steel = printable(known.model.tube.grade, 30)
    bends = len(known.bends)
    lines = [
        ("slack", _pair(belief.slack_deg), _behind(belief.slack_deg, "on this die")),
        ("springback of 90 deg", _pair(belief.springback_90_deg), "legs and arc together"),
        ("of it the legs", _pair(belief.legs_deg), _behind(belief.legs_deg, "on this die")),
        (
            "radius after release",
            f"{show_length(radius.value, unit)} ± {show_about(2 * radius.sd, unit)}",
            "along the centreline",
        ),
        (
            f"{steel} over its strengths",
            _percent(belief.steel_ratio),
            _behind(belief.steel_ratio, "of it"),
        ),
        (
            "this lot over its steel",
            _percent(belief.lot_ratio),
            _behind(belief.lot_ratio, "of this lot"),
        ),
        (
            "this die over others",
            _percent(belief.die_ratio),
            _behind(belief.die_ratio, "on this die"),
        ),
        (
            "scatter of single pieces",
            f"{belief.scatter_deg.value:.2f} deg",
            "one standard deviation",
        ),
        (
            "stopping past the cue",
            f"{belief.stopping_deg.value:+.2f} deg",
            f"scatter {belief.stopping_deg.sd:.2f}, from {belief.stopping_deg.bends:.0f} presses",
        ),
        ("drift of the slack", _drift(belief), "since the die had settled in"),
    ]
    wide = max(len(name) for name, _, _ in lines)
    across = max(len(value) for _, value, _ in lines)
    return [
        _title(known),
        "" if bends else "never bent: this is what mechanics and other setups say",
        *(f"  {name:<{wide}}  {value:>{across}}  {told}".rstrip() for name, value, told in lines),
        *_doubted(belief, known.numbers),
        "",
        "give or take what holds 19 times in 20",
    ]


def _doubted(belief: "Belief", numbers: Mapping[str, int]) -> list[str]:
    if not belief.doubts:
        return []
    lines = [
        f"  bend {numbers.get(doubt.name, '?')} of the log, {doubt.bend_angle:.1f} deg:"
        f" {doubt.off_deg:+.1f} deg off, {abs(doubt.off_sds):.0f} standard deviations: {doubt.why}?"
        for doubt in belief.doubts
    ]
    return ["", "kept at little weight:", *lines]


def _drift(belief: "Belief") -> str:
    return "-" if belief.drift_deg is None else _pair(belief.drift_deg)


def _title(known: Known) -> str:
    bench, die, tube, lot = known.names
    of = f", lot {lot}" if lot else ""
    count = len(known.bends)
    told = f"{count} bend{'' if count == 1 else 's'}"
    return printable(f"bench {bench}, die {die}, tube {tube}{of}: {told}", 200)


def _pair(figure: "Figure", unit: str = "deg", digits: int = 2) -> str:
    return f"{figure.value:.{digits}f} ± {2 * figure.sd:.{digits}f} {unit}".rstrip()


def _percent(figure: "Figure") -> str:
    return f"{100 * figure.value:+.0f} ± {200 * figure.sd:.0f} %"


def _behind(figure: "Figure", whose: str) -> str:
    count = round(figure.bends)
    return f"from {count} bend{'' if count == 1 else 's'} {whose}"


def _known(args: argparse.Namespace) -> Iterable[Known]:
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
            yield Known(
                Springback(newest.bench, newest.die, newest.tube, newest.lot, knowledge),
                tuple(bends),
                numbers,
            )


def _asked(known: Known, args: argparse.Namespace) -> bool:
    wanted = (args.bench, args.die, args.tube, args.lot)
    return all(want in (None, name) for want, name in zip(wanted, known.names, strict=True))


def _unbent(args: argparse.Namespace) -> Known:
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
    return Known(model, (), {})


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


def _only(found: Sequence[Known]) -> None:
    if len(found) > 1:
        setups = "; ".join(
            f"--die {die} --tube {tube} --lot {lot or repr(lot)}" for _, die, tube, lot in
            (known.names for known in found)
        )  # fmt: skip
        raise Refusal(printable(f"a plot shows one setup; there are: {setups}", 600))
