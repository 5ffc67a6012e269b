"""``benchmate rehearse JOB``: many simulated bends at full speed, with the figures."""

import argparse
import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from benchmate import places
from benchmate.errors import Refusal
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.runtime.batch_rehearsal import BatchRequest, RehearsedBend

_MOST_BENDS = 1_000_000
_WITHIN_68, _WITHIN_95 = 0.9945, 1.96
"""Standard deviations either way that hold 68 % and 95 % of a normal's draws."""


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("job", metavar="JOB", help="name of the job (its file without .yaml)")
    parser.add_argument(
        "--bends", type=int, default=1600, metavar="N", help="how many, 16 on each new setup"
    )
    parser.add_argument("--seed", type=int, default=0, metavar="S", help="equal seeds, equal bends")
    parser.add_argument(
        "--protractor", choices=("never", "when asked", "always"), default="always",
        help="when the simulated person measures the tube",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true", help="one JSON object")


def run(args: argparse.Namespace) -> int:
    """Bend, and print what came of it."""
    if not 1 <= args.bends <= _MOST_BENDS:
        raise Refusal(f"--bends takes a number from 1 to {_MOST_BENDS}, not {args.bends}")
    if args.seed < 0:
        raise Refusal(f"--seed takes a number from 0 on, not {args.seed}")
    from benchmate.runtime.batch_rehearsal import rehearsed

    wish = _wish(args)
    made = tuple(rehearsed(wish))
    if args.json:
        print(json.dumps(as_json(args.job, wish, made), allow_nan=False))
    else:
        print("\n".join(as_text(args.job, wish, made)))
    return 0


def as_json(job: str, wish: "BatchRequest", made: Sequence["RehearsedBend"]) -> dict[str, Any]:
    """Give the figures of all bends, and of each bend's place on its setup."""
    numbers = sorted({bend.number for bend in made})
    return {
        "job": job,
        "seed": wish.seed,
        "protractor": wish.protractor,
        "tolerance_deg": wish.tolerance,
        "setups": sum(bend.number == 1 for bend in made),
        **figures(made, wish.tolerance),
        "by_bend": [
            {"bend": number}
            | figures([bend for bend in made if bend.number == number], wish.tolerance)
            for number in numbers
        ],
    }


def figures(made: Sequence["RehearsedBend"], tolerance: float) -> dict[str, float]:
    """Give how these bends came out: shares of 1, hits a bend, coverage of the intervals."""
    count = len(made)
    return {
        "bends": count,
        "in_tolerance": sum(abs(bend.error) <= tolerance for bend in made) / count,
        "over_bent": sum(bend.error > tolerance for bend in made) / count,
        "hits": sum(bend.hits for bend in made) / count,
        "coverage_68": sum(abs(bend.first_z) < _WITHIN_68 for bend in made) / count,
        "coverage_95": sum(abs(bend.first_z) < _WITHIN_95 for bend in made) / count,
        "verdict_coverage_68": sum(abs(bend.last_z) < _WITHIN_68 for bend in made) / count,
        "verdict_coverage_95": sum(abs(bend.last_z) < _WITHIN_95 for bend in made) / count,
    }


def as_text(job: str, wish: "BatchRequest", made: Sequence["RehearsedBend"]) -> list[str]:
    """Give the figures as a table for a person."""
    told = as_json(job, wish, made)
    shown = [row for row in told["by_bend"] if row["bend"] in (1, 2, 4, 8, 16)]
    lot = f", lot {wish.lot}" if wish.lot else ""
    return [
        printable(f"{job}: die {wish.die.die}, tube {wish.tube.tube}{lot}, never bent before"),
        f"{told['bends']} simulated bends on {told['setups']} setups, seed {wish.seed},"
        f" tolerance {wish.tolerance:g} deg, protractor {wish.protractor}",
        "",
        "               in            hits    first stop within    verdict within",
        "bend    tolerance  over-bent  a bend    68 %    95 %       68 %    95 %",
        *(_line(str(row["bend"]), row) for row in shown),
        _line("all", told),
        "",
        "The intervals are right when about 68 and 95 of 100 bends fall within them.",
    ]


def _line(name: str, row: dict[str, Any]) -> str:
    return (
        f"{name:>4} {row['in_tolerance']:>11.1%} {row['over_bent']:>10.1%} {row['hits']:>7.2f}"
        f" {row['coverage_68']:>7.0%} {row['coverage_95']:>7.0%}"
        f" {row['verdict_coverage_68']:>10.0%} {row['verdict_coverage_95']:>7.0%}"
    )


def _wish(args: argparse.Namespace) -> "BatchRequest":
    from benchmate.layout.plan import plan_job
    from benchmate.runtime.batch_rehearsal import BatchRequest
    from benchmate.shop import Shop
    from benchmate.springback import Springback

    shop = Shop.for_job(places.shop_folder(args.shop), args.job)
    job = shop.job(args.job)
    die, tube = shop.die(job.die), shop.tube(job.tube)
    over = job.over_chance_pct / 100
    plan = plan_job(job, die, tube, Springback(shop.bench, die, tube, job.lot, over_limit=over))
    return BatchRequest(
        bench=shop.bench,
        die=die,
        tube=tube,
        lot=job.lot,
        angles=tuple(bend.bend_angle_deg for bend in plan.bends),
        tolerance=job.tolerance_deg,
        over_limit=over,
        bends=args.bends,
        seed=args.seed,
        protractor=args.protractor,
    )
