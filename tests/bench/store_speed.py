"""How long the store takes: the next stop angle with a long log and a short one, and a commit.

    python tests/bench/store_speed.py [--bends 100000] [--bends-a-lot 400] [--folder DIR]

Yardsticks in the same run: the same question to a log of 100 bends; and for a commit, one bare
INSERT of as many bytes by SQLite with the same settings on the same disk.
"""

import argparse
import dataclasses
import random
import sqlite3
import statistics
import sys
import tempfile
import time
import uuid
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np

from benchmate.shop import Shop
from benchmate.store import (
    BendRecord,
    HitRecord,
    Log,
    RunInput,
    RunRecord,
    Store,
    hash_chain,
    rows,
)
from benchmate.store.database import for_writing
from benchmate.store.learning import EVERY, learned, learned_as_of, model_for
from benchmate.store.record import Stamp
from benchmate.store.schema import VERSION

CONFIGS = Path(__file__).parents[2] / "configs"
COMMITS = 60
BENDS_A_LOT = 400
PAUSE_S = 0.1
TRACE_BYTES = 12_000
"""About what a bend of two hits keeps."""
BENDS_A_RUN = 10
KINDS = ("zero", "begun", "hit", "measured", "turned", "next")
INPUT = {"peak": 93.512, "rest": 91.203, "sure": True, "sd": 0.0712, "faults": [], "notes": []}


def bends(shop: Shop, many: int, seed: int, a_lot: int = BENDS_A_LOT) -> list[BendRecord]:
    """Make bends of every die with every tube that fits it, in runs of a dozen."""
    chance = np.random.default_rng(seed)
    pairs = [
        (die, tube)
        for die in shop.dies.values()
        for tube in shop.tubes.values()
        if abs(die.for_od_mm - tube.od_mm) < 0.5
    ]
    made = []
    used: Counter[str] = Counter()
    for number in range(many):
        die, tube = pairs[number // 12 % len(pairs)]
        used[tube.tube] += 1
        wanted = float(chance.uniform(20, min(die.max_angle_deg, 120)))
        back = 1.0 + 0.025 * wanted + float(chance.normal(0, 0.2))
        peak = wanted + 1.2 + back
        stop = peak - float(chance.normal(0.1, 0.2))
        hit = HitRecord(stop_angle=stop, stop_sd=0.5, peak=peak, rest=peak - back)
        made.append(
            BendRecord(
                bend_id=str(uuid.UUID(bytes=chance.bytes(16), version=4)),
                job="bench",
                bend=1 + number % 12,
                die=die.die,
                tube=tube.tube,
                lot=f"lot {used[tube.tube] // a_lot}",
                bend_angle=wanted,
                tolerance=0.5,
                hits=(hit,),
                verdict="accept",
                setup={
                    "bench": msgspec.to_builtins(shop.bench),
                    "die": msgspec.to_builtins(die),
                    "tube": msgspec.to_builtins(tube),
                },
                trace=chance.bytes(1000),
            )
        )
    return made


def fill(path: Path, made: list[BendRecord]) -> None:
    """Write the bends as the writer does, but in one transaction."""
    with Store.open(path) as store:
        store_id = store.store_id
    connection = for_writing(path)
    connection.execute("BEGIN IMMEDIATE")
    for seq, bend in enumerate(made, 1):
        stamp = Stamp(str(uuid.uuid4()), store_id, seq, VERSION, 1.7e9, 1, "", float(seq))
        row = rows.bend_row(bend, stamp, 1, None) | {"seq": seq, "place": seq}
        hash_chain.append(connection, "bend", row, rows.hit_rows(bend))
    _fill_runs(connection, store_id, made)
    connection.execute("COMMIT")
    connection.close()
    with Store.open(path) as store, Log.open(path) as log:
        learned(log, simulated=False, store=store)


def _fill_runs(connection: sqlite3.Connection, store_id: str, made: list[BendRecord]) -> None:
    """Write a run for each ten bends, with six inputs a bend; the last one is unfinished."""
    seq = 0
    for number in range(1, len(made) // BENDS_A_RUN + 1):
        run = RunRecord(
            run_id=str(uuid.uuid4()),
            job="bench" if number % 10 else "another",
            first_bend=1,
            simulated=False,
            setup=made[0].setup,
            job_file={},
            plan={},
            learned_to=BENDS_A_RUN * (number - 1),
        )
        stamp = Stamp(str(uuid.uuid4()), store_id, number, VERSION, 1.7e9, 1, "", float(number))
        hash_chain.append(connection, "run", rows.run_row(run, stamp) | {"seq": number})
        follows = None
        for at in range(1, BENDS_A_RUN * len(KINDS) + 1):
            seq += 1
            kind = KINDS[(at - 1) % len(KINDS)]
            given = RunInput(run_id=run.run_id, number=at, kind=kind, payload=INPUT)
            stamp = Stamp(str(uuid.uuid4()), store_id, seq, VERSION, 1.7e9, 1, "", float(seq))
            row = rows.input_row(given, stamp, follows) | {"seq": seq}
            hash_chain.append(connection, "run_input", row)
            follows = stamp.row_id


def least_ms(what: Callable[[], object], times: int = 25) -> float:
    """Give the least of several timings [ms]: what other programs on the machine cost left out."""
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        what()
        taken.append(1e3 * (time.perf_counter() - begun))
    return min(taken)


def next_stop_angle(shop: Shop, path: Path) -> float:
    """Open the log, learn, aim: what stands between asking and the first stop angle."""
    die = next(iter(shop.dies.values()))
    tube = next(t for t in shop.tubes.values() if abs(t.od_mm - die.for_od_mm) < 0.5)
    with Log.open(path) as log:
        model = model_for(log, shop.bench, die, tube, "lot 1", simulated=False)
    return model.aim(90.0, 0.5).stop_angle


def start(shop: Shop, path: Path) -> object:
    """Do what a start of the bench asks of the store: the unfinished run, and what is learned."""
    with Log.open(path) as log:
        run = log.unfinished("bench", simulated=False)
        learned(log, simulated=False)
        return None if run is None else learned_as_of(log, run.record.learned_to, simulated=False)


def input_ms(path: Path) -> tuple[float, float]:
    """Give the middle and the worst time from an input of a run to its receipt [ms]."""
    taken = []
    with Store.open(path) as store:
        run = RunRecord(
            run_id=str(uuid.uuid4()), job="bench", first_bend=1, simulated=False, setup={},
            job_file={}, plan={}, learned_to=0,
        )  # fmt: skip
        store.begin_run(run).result()
        for number in range(1, COMMITS + 1):
            given = RunInput(run_id=run.run_id, number=number, kind="hit", payload=INPUT)
            begun = time.perf_counter()
            store.keep_input(given).result()
            taken.append(1e3 * (time.perf_counter() - begun))
            time.sleep(PAUSE_S)
    return statistics.median(taken), max(taken)


def commit_ms(path: Path, made: list[BendRecord]) -> tuple[float, float]:
    """Give the middle and the worst time from a bend's append to its receipt [ms]."""
    taken = []
    with Store.open(path) as store:
        for bend in made:
            begun = time.perf_counter()
            store.append(bend).result()
            taken.append(1e3 * (time.perf_counter() - begun))
            # Bends come minutes apart: the checkpoint after the receipt is done before the next.
            time.sleep(PAUSE_S)
    return statistics.median(taken), max(taken)


def bare_commit_ms(path: Path) -> tuple[float, float]:
    """Give the same for one INSERT of as many bytes into a table of one column."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE bare (content BLOB)")
    taken = []
    for _ in range(COMMITS):
        begun = time.perf_counter()
        connection.execute("INSERT INTO bare VALUES (?)", (bytes(TRACE_BYTES + 1500),))
        taken.append(1e3 * (time.perf_counter() - begun))
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        time.sleep(PAUSE_S)
    connection.close()
    return statistics.median(taken), max(taken)


def say(line: str) -> None:
    """Print a line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bends", type=int, default=100_000)
    parser.add_argument("--bends-a-lot", type=int, default=BENDS_A_LOT)
    parser.add_argument("--folder", type=Path)
    args = parser.parse_args()
    shop = Shop.open(CONFIGS)
    with tempfile.TemporaryDirectory(dir=args.folder) as name:
        folder = Path(name)
        # As far past the last snapshot as can be, in both.
        few, many = (n // EVERY * EVERY + EVERY - 1 for n in (100, args.bends))
        times = {}
        for count in (few, many):
            path = folder / f"{count}.db"
            begun = time.perf_counter()
            fill(path, bends(shop, count, 1, args.bends_a_lot))
            say(
                f"{count} bends written and learned in {time.perf_counter() - begun:.1f} s,"
                f" {path.stat().st_size / 1e6:.0f} MB"
            )
            times[count] = (
                least_ms(lambda at=path: next_stop_angle(shop, at)),
                least_ms(lambda at=path: _last_bend(at)),
                least_ms(lambda at=path: start(shop, at)),
            )
            say(
                f"  next stop angle {times[count][0]:.1f} ms, last bend {times[count][1]:.2f} ms,"
                f" a start with an unfinished run {times[count][2]:.1f} ms"
            )
        for what, at in (("next stop angle", 0), ("last bend read", 1), ("a start", 2)):
            ratio = times[many][at] / times[few][at]
            say(f"{what}: {many} bends take {ratio:.2f} x the time of {few} (reach: 2)")
        made = [
            dataclasses.replace(bend, trace=random.randbytes(TRACE_BYTES))
            for bend in bends(shop, COMMITS, seed=2)
        ]
        ours, worst = commit_ms(folder / "commits.db", made)
        bare, bare_worst = bare_commit_ms(folder / "bare.db")
        say(f"append to receipt: {ours:.1f} ms (worst {worst:.1f})")
        ours_input, worst_input = input_ms(folder / "commits.db")
        say(f"input of a run to receipt: {ours_input:.1f} ms (worst {worst_input:.1f})")
        say(f"bare INSERT: {bare:.1f} ms (worst {bare_worst:.1f}); ours is {ours / bare:.2f} x")


def _last_bend(path: Path) -> object:
    with Log.open(path) as log:
        return log.bend(log.last_seq())


if __name__ == "__main__":
    main()
