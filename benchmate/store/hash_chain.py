"""Put a row behind the newest one, in the writer's transaction."""

import sqlite3
from collections.abc import Sequence

from benchmate.store.rows import FIRST_DIGEST, HitRow, Row, digest


def next_seq(connection: sqlite3.Connection, table: str) -> int:
    """Give the number that the next row of the table takes."""
    ((seq,),) = connection.execute(f"SELECT ifnull(max(seq), 0) + 1 FROM {table}")  # noqa: S608 - our own table
    return int(seq)


def seq_of(connection: sqlite3.Connection, table: str, row_id: str) -> int | None:
    """Give the number of the row with this id, None where there is none."""
    row = connection.execute(f"SELECT seq FROM {table} WHERE row_id = ?", (row_id,)).fetchone()  # noqa: S608 - our own table
    return None if row is None else int(row[0])


def place_of(connection: sqlite3.Connection, bend_id: str, seq: int) -> int:
    """Give a bend's place: the number of its first row here, ``seq`` when this is the first."""
    ((place,),) = connection.execute(
        "SELECT ifnull(min(place), ?) FROM bend WHERE bend_id = ?", (seq, bend_id)
    )
    return int(place)


def next_version(connection: sqlite3.Connection, bend_id: str) -> tuple[int, str | None]:
    """Give the number of a bend's next version and the id of the row that it corrects."""
    newest = connection.execute(
        "SELECT version, row_id FROM bend WHERE bend_id = ?"
        " ORDER BY version DESC, row_id DESC LIMIT 1",
        (bend_id,),
    ).fetchone()
    return (1, None) if newest is None else (newest[0] + 1, newest[1])


def append(
    connection: sqlite3.Connection, table: str, row: Row, hits: Sequence[HitRow] = ()
) -> None:
    """Write a row that has its ``seq`` (and ``place``), tied by its digest to the one before."""
    last = connection.execute(
        f"SELECT digest FROM {table} WHERE seq = ?",  # noqa: S608 - our own table
        (row["seq"] - 1,),
    ).fetchone()
    tied = row | {"previous": FIRST_DIGEST if last is None else last[0]}
    tied["digest"] = digest(table, tied, hits)
    names = ", ".join(tied)
    marks = ", ".join("?" * len(tied))
    connection.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(tied.values()))  # noqa: S608 - names are the schema's
    for number, hit in enumerate(hits, 1):
        connection.execute(
            "INSERT INTO hit VALUES (?, ?, ?, ?, ?, ?, ?, ?)", (row["seq"], number, *hit)
        )
