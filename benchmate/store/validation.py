"""Whether the store can keep what a run is going to write: asked before the pump moves."""

import sqlite3
from contextlib import closing
from typing import Any

from benchmate.errors import Failure, Refusal
from benchmate.store import hash_chain, rows, schema
from benchmate.store.record import BendRecord, RunRecord, Stamp
from benchmate.store.schema import LONGEST_NAME, VERSION
from benchmate.wording import is_printable, printable

_NAMES = ("job", "die", "tube", "lot")
_STAMP = Stamp(
    row_id="0" * 36,
    origin="0" * 36,
    origin_seq=1,
    layout=VERSION,
    wall_s=0.0,
    clock_synchronised=False,
    boot_id="",
    monotonic_s=0.0,
)


def check(*records: BendRecord | RunRecord) -> None:
    """Raise Refusal for the first record that the store could never keep.

    Names may be 200 characters long and hold nothing that a terminal takes for a command. All other
    limits are asked of the store's own tables, made in memory.
    """
    for record in records:
        for name in _NAMES:
            check_name(name, getattr(record, name, ""))
        with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
            schema.make_tables(connection)
            try:
                _write(connection, record)
            except (Failure, sqlite3.Error, OverflowError, TypeError, ValueError) as error:
                what = f"bend {record.bend}" if isinstance(record, BendRecord) else "the run"
                raise Refusal(
                    f"{printable(record.job, 60)}: {what} could never be logged as it is ({error});"
                    " mend the shop's files before you bend"
                ) from error


def check_name(name: str, text: str) -> None:
    """Raise Refusal for a name that is too long for the log, or that can't be shown as it is."""
    if len(text) > LONGEST_NAME:
        raise Refusal(
            f"{name} '{printable(text, 40)}': {len(text)} characters are too long for the log;"
            f" {LONGEST_NAME} or fewer are right"
        )
    if not is_printable(text):
        odd = next(each for each in text if not is_printable(each))
        raise Refusal(
            f"{name} '{printable(text, 40)}': the character U+{ord(odd):04X} in it can't be shown;"
            " write it without"
        )


def _write(connection: sqlite3.Connection, record: BendRecord | RunRecord) -> None:
    place: dict[str, Any] = {"seq": 1}
    if isinstance(record, RunRecord):
        hash_chain.append(connection, "run", rows.run_row(record, _STAMP) | place)
    else:
        row = rows.bend_row(record, _STAMP, 1, None) | place | {"place": 1}
        hash_chain.append(connection, "bend", row, rows.hit_rows(record))
