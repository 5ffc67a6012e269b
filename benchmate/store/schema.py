"""The store's tables, and the numbered steps from each layout to the next.

Rules that the tables hold by themselves: nothing is changed or removed, the sequence has no gaps,
every angle is a finite number in range, every row carries a digest. Only ``cache`` holds what can
be worked out again.
"""

import sqlite3
from collections.abc import Callable, Mapping
from types import MappingProxyType

APPLICATION_ID = 0x42_4E_44_4D
"""In the file's header: this is a store of benchmate's."""
VERSION = 2
"""The layout that this program writes (``user_version`` in the file's header)."""
TABLES = ("bend", "finding", "run", "run_input")
"""The tables whose rows are chained, each after what it refers to."""
TABLES_OF: Mapping[int, tuple[str, ...]] = MappingProxyType({1: TABLES[:2], 2: TABLES})
"""The chained tables that each layout had."""
DIGEST_BYTES = 32
LONGEST_NAME = 200
LARGEST_TEXT = 64 * 1024
LARGEST_PAYLOAD = 1024 * 1024
LARGEST_TRACE = 16 * 1024 * 1024
MOST_HITS = 100
MOST_INPUTS = 10_000
"""Of one run."""

Migration = Callable[[sqlite3.Connection], None]

_ROW = f"""
    seq INTEGER PRIMARY KEY CHECK (seq > 0),
    row_id TEXT NOT NULL UNIQUE CHECK (length(row_id) = 36),
    origin TEXT NOT NULL CHECK (length(origin) = 36),
    origin_seq INTEGER NOT NULL CHECK (origin_seq BETWEEN 1 AND 1000000000000),
    layout INTEGER NOT NULL CHECK (layout > 0),
    wall_s REAL NOT NULL CHECK (wall_s BETWEEN -1e11 AND 1e11),
    clock_synchronised INTEGER NOT NULL CHECK (clock_synchronised IN (0, 1)),
    boot_id TEXT NOT NULL CHECK (length(boot_id) <= 64),
    monotonic_s REAL NOT NULL CHECK (monotonic_s BETWEEN -1e12 AND 1e12),
    previous BLOB NOT NULL CHECK (length(previous) = {DIGEST_BYTES}),
    digest BLOB NOT NULL CHECK (length(digest) = {DIGEST_BYTES})"""


def _json(column: str, begins: str, largest: int = LARGEST_TEXT) -> str:
    # SQLite's JSON functions aren't allowed in a schema that isn't trusted.
    return (
        f"{column} TEXT NOT NULL CHECK (length({column}) <= {largest}"
        f" AND substr({column}, 1, 1) = '{begins}')"
    )


def _text(column: str, longest: int = LONGEST_NAME) -> str:
    return f"{column} TEXT NOT NULL CHECK (length({column}) <= {longest})"


def _angle(column: str, bounds: str = "BETWEEN -720 AND 720", *, may_lack: bool = False) -> str:
    return f"{column} REAL {'' if may_lack else 'NOT NULL '}CHECK ({column} {bounds})"


def _chained(table: str, columns: str) -> str:
    return f"CREATE TABLE {table} ({_ROW}, {columns}) STRICT"


_SETUP, _SENSOR, _FAULTS = _json("setup", "{"), _json("sensor", "{"), _json("faults", "[")
_PAYLOAD = _json("payload", "{", LARGEST_PAYLOAD)
_TABLES = (
    "CREATE TABLE store (one INTEGER PRIMARY KEY CHECK (one = 1),"
    " store_id TEXT NOT NULL CHECK (length(store_id) = 36)) STRICT",
    f"""CREATE TABLE bend ({_ROW},
    place INTEGER NOT NULL CHECK (place BETWEEN 1 AND seq),
    bend_id TEXT NOT NULL CHECK (length(bend_id) BETWEEN 1 AND 64),
    version INTEGER NOT NULL CHECK (version BETWEEN 1 AND 10000),
    corrects TEXT CHECK (length(corrects) = 36),
    {_text("bench")}, {_text("job")},
    bend INTEGER NOT NULL CHECK (bend BETWEEN 1 AND 100000),
    {_text("die")}, {_text("tube")}, {_text("lot")},
    {_angle("bend_angle", "BETWEEN 0 AND 720")}, {_angle("tolerance", "BETWEEN 0 AND 360")},
    verdict TEXT NOT NULL CHECK (verdict IN ('accept', 'again', 'over', 'measure')),
    {_SETUP}, {_SENSOR}, {_FAULTS},
    withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
    simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
    {_text("note", 2000)},
    trace BLOB NOT NULL CHECK (length(trace) <= {LARGEST_TRACE}),
    CHECK ((version = 1) = (corrects IS NULL))) STRICT""",
    "CREATE INDEX bend_version ON bend (place, version, row_id, simulated, withdrawn)",
    "CREATE INDEX bend_named ON bend (bend_id)",
    f"""CREATE TABLE hit (seq INTEGER NOT NULL REFERENCES bend (seq),
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND {MOST_HITS}),
    {_angle("stop_angle")}, {_angle("stop_sd", "BETWEEN 0 AND 720")}, {_angle("peak")},
    {_angle("rest", may_lack=True)}, {_angle("measured", may_lack=True)},
    how_measured TEXT CHECK (how_measured IN ('protractor', 'digital level', 'sensor')),
    PRIMARY KEY (seq, number)) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE finding ({_ROW},
    kind TEXT NOT NULL CHECK (length(kind) BETWEEN 1 AND 64), {_text("name")},
    {_PAYLOAD}) STRICT""",
    "CREATE INDEX finding_named ON finding (kind, name, seq)",
    "CREATE TABLE cache (name TEXT PRIMARY KEY CHECK (length(name) <= 200),"
    " seq INTEGER NOT NULL, content BLOB NOT NULL) STRICT",
)


def _append_only(table: str) -> list[str]:
    said = f"SELECT RAISE(ABORT, 'the table {table} is append-only')"
    return [
        f"CREATE TRIGGER {table}_is_not_{done}ed BEFORE {verb} ON {table} BEGIN {said}; END"
        for verb, done in (("UPDATE", "chang"), ("DELETE", "remov"))
    ]


def _next_in_sequence(table: str) -> str:
    # Also the answer to INSERT OR REPLACE from a program that leaves recursive_triggers off.
    return (
        f"CREATE TRIGGER {table}_follows BEFORE INSERT ON {table}"  # noqa: S608 - our own table
        f" WHEN NEW.seq IS NOT (SELECT ifnull(max(seq), 0) + 1 FROM {table})"
        f" OR EXISTS (SELECT 1 FROM {table} WHERE row_id = NEW.row_id)"
        " BEGIN SELECT RAISE(ABORT, 'a row is out of sequence or there already'); END"
    )


_HIT_FOLLOWS = (
    "CREATE TRIGGER hit_follows BEFORE INSERT ON hit"
    " WHEN NEW.seq IS NOT (SELECT max(seq) FROM bend)"
    " OR NEW.number IS NOT (SELECT ifnull(max(number), 0) + 1 FROM hit WHERE seq = NEW.seq)"
    " BEGIN SELECT RAISE(ABORT, 'a hit is added to the newest row only, in order'); END"
)
_STORE_IS_ONE = (
    "CREATE TRIGGER store_is_one BEFORE INSERT ON store WHEN EXISTS (SELECT 1 FROM store)"
    " BEGIN SELECT RAISE(ABORT, 'a store has one name'); END"
)


def _create(connection: sqlite3.Connection) -> None:
    for statement in _TABLES:
        connection.execute(statement)
    for table in ("store", "bend", "hit", "finding"):
        for statement in _append_only(table):
            connection.execute(statement)
    for statement in (_next_in_sequence("bend"), _next_in_sequence("finding")):
        connection.execute(statement)
    connection.execute(_HIT_FOLLOWS)
    connection.execute(_STORE_IS_ONE)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")


_RUN = f"""
    run_id TEXT NOT NULL UNIQUE CHECK (length(run_id) = 36),
    {_text("bench")}, {_text("job")},
    first_bend INTEGER NOT NULL CHECK (first_bend BETWEEN 1 AND 100000),
    simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
    {_SETUP}, {_json("job_file", "{", LARGEST_PAYLOAD)}, {_json("plan", "{", LARGEST_PAYLOAD)},
    learned_to INTEGER NOT NULL CHECK (learned_to BETWEEN 0 AND 1000000000000)"""
_RUN_INPUT = f"""
    run_id TEXT NOT NULL REFERENCES run (run_id),
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND {MOST_INPUTS}),
    follows TEXT CHECK (length(follows) = 36),
    kind TEXT NOT NULL CHECK (length(kind) BETWEEN 1 AND 64), {_PAYLOAD},
    CHECK ((number = 1) = (follows IS NULL))"""
_RUN_TABLES = (
    _chained("run", _RUN),
    "CREATE INDEX run_of_job ON run (job, simulated, seq)",
    _chained("run_input", _RUN_INPUT),
    "CREATE INDEX run_input_number ON run_input (run_id, number)",
)


def _add_runs(connection: sqlite3.Connection) -> None:
    for column in (
        "run TEXT NOT NULL DEFAULT '' CHECK (length(run) IN (0, 36))",
        _angle("drawn_angle", "BETWEEN 0 AND 720", may_lack=True),
        _angle("came_to", may_lack=True),
        _angle("came_to_sd", "BETWEEN 0 AND 720", may_lack=True),
        f"notes TEXT NOT NULL DEFAULT '[]' CHECK (length(notes) <= {LARGEST_TEXT}"
        " AND substr(notes, 1, 1) = '[')",
    ):
        connection.execute(f"ALTER TABLE bend ADD COLUMN {column}")
    for statement in _RUN_TABLES:
        connection.execute(statement)
    for table in ("run", "run_input"):
        for statement in (*_append_only(table), _next_in_sequence(table)):
            connection.execute(statement)
    # What was learned left out bends that had nothing worse than a low supply.
    connection.execute(
        "DELETE FROM cache WHERE EXISTS (SELECT 1 FROM bend WHERE faults LIKE '%\"supply: %')"
    )


MIGRATIONS: Mapping[int, Migration] = MappingProxyType({0: _create, 1: _add_runs})
"""From each layout's number to the function that makes the next of it; 0 is the empty file.

A step only adds: rows stay as they were written, with the digests that vouch for them, and
``rows`` reads those of older layouts as the newest has them.
"""


def make_tables(
    connection: sqlite3.Connection,
    layout: int = VERSION,
    *,
    found: int = 0,
    migrations: Mapping[int, Migration] = MIGRATIONS,
) -> None:
    """Bring the tables from layout ``found`` to another; those of an empty file are made."""
    for version in range(found, layout):
        migrations[version](connection)
    connection.execute(f"PRAGMA user_version = {layout}")


def objects_of(connection: sqlite3.Connection) -> set[tuple[str, str]]:
    """Give every table, index and trigger that a store holds, as (name, SQL)."""
    found = connection.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL")
    return {(str(name), str(sql)) for name, sql in found}


def right_objects(layout: int = VERSION) -> set[tuple[str, str]]:
    """Give what a store of a layout must hold, no more and no less."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        make_tables(connection, layout)
        return objects_of(connection)
    finally:
        connection.close()
