"""The inputs of a run: which come next, and which count where two stores went on apart.

Each input names the row of the one before. Where a copy of a store went on with the same run, a
merge keeps both ways: the longer one counts, of two as long the one whose last row id is higher,
so that all stores say the same.
"""

import sqlite3
from collections.abc import Sequence

from benchmate.errors import Failure
from benchmate.store import hash_chain, rows
from benchmate.store.record import RunInput, Stamp


def that_count(inputs: Sequence[rows.Row]) -> list[rows.Row]:
    """Give the inputs of a run that count, in order, from all that a store holds of it."""
    reached: dict[str, rows.Row] = {}
    for row in sorted(inputs, key=lambda each: (each["number"], each["row_id"])):
        before = reached.get(row["follows"] or "")
        if row["number"] == (1 if row["follows"] is None else before and before["number"] + 1):
            reached[row["row_id"]] = row
    way: list[rows.Row] = []
    at = max(reached.values(), key=lambda each: (each["number"], each["row_id"]), default=None)
    while at is not None:
        way.append(at)
        at = reached.get(at["follows"] or "")
    return way[::-1]


def keep_input(connection: sqlite3.Connection, given: RunInput, stamp: Stamp) -> int:
    """Put an input behind those of its run; give its row number.

    One that is there already, sent again because its receipt never came, is found. Failure when
    those before it, or the run itself, aren't kept yet.
    """
    row = rows.input_row(given, stamp, None)
    names = ("seq", "row_id", "number", "follows", "kind", "payload")
    found = connection.execute(
        f"SELECT {', '.join(names)} FROM run_input WHERE run_id = ?",  # noqa: S608 - our own names
        (given.run_id,),
    )
    way = that_count([dict(zip(names, values, strict=True)) for values in found])
    if given.number <= len(way):
        there = way[given.number - 1]
        if (there["kind"], there["payload"]) == (row["kind"], row["payload"]):
            return int(there["seq"])
    begun = connection.execute("SELECT 1 FROM run WHERE run_id = ?", (given.run_id,)).fetchone()
    if begun is None or given.number != len(way) + 1:
        due = f"number {len(way) + 1} is due" if begun else "the run itself isn't kept"
        raise Failure(f"input {given.number} of a run was not kept: {due}")
    seq = hash_chain.next_seq(connection, "run_input")
    row |= {"seq": seq, "origin_seq": seq, "follows": way[-1]["row_id"] if way else None}
    hash_chain.append(connection, "run_input", row)
    return seq
