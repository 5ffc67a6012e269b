"""The log as readers see it: read-only, never in the writer's way."""

import itertools
import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self

from benchmate.errors import Failure, Refusal
from benchmate.store import database, rows, runs
from benchmate.store.integrity import problems
from benchmate.store.record import LoggedBend, LoggedRun
from benchmate.store.schema import VERSION
from benchmate.wording import printable

_PAGE = 500
"""Bends read in one go; between pages no read transaction keeps the writer from tidying up."""
_PAGE_WITH_TRACES = 50
# The plus signs keep SQLite from walking the rows by number: the index by place is the way.
_NEWEST = (
    "NOT EXISTS (SELECT 1 FROM bend AS later WHERE later.place = bend.place"
    " AND +later.seq <= :until AND (later.version, later.row_id) > (bend.version, bend.row_id))"
)


class Entry(NamedTuple):
    """One finding as it was kept."""

    wall_s: float
    clock_synchronised: bool
    payload: dict[str, Any]


class SetupBent(NamedTuple):
    """One setup that a die has bent."""

    setup: dict[str, Any]
    """As it was: bench, die, tube."""
    lot: str
    bend_angle: float
    """The largest."""
    bends: int
    newest: int
    """Place of the newest such bend (``seq``)."""
    wall_s: float
    """When that was."""


class Log:
    """A store opened for reading. A store that isn't there yet reads as empty."""

    def __init__(
        self, path: Path, connection: sqlite3.Connection | None, closing: ExitStack | None = None
    ) -> None:
        self.path = path
        self._connection = connection
        self._closing = closing

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open a store read-only and create nothing.

        Failure when it isn't a store, is damaged or newer; OlderStore when it must be upgraded.
        """
        database.refuse_lone_log(path)
        if not path.exists() or not path.stat().st_size:
            return cls(path, None)
        with ExitStack() as closing:
            connection = closing.enter_context(database.reading(path))
            if database.identify_present(connection, path) == 0:
                return cls(path, None)
            return cls(path, connection, closing.pop_all())

    def close(self) -> None:
        """Close it; a second call does nothing, and a closed log reads as empty."""
        self._connection = None
        if self._closing is not None:
            self._closing.close()
            self._closing = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def bends(
        self,
        *,
        simulated: bool | None = None,
        since_seq: int = 0,
        until_seq: int | None = None,
        after_place: int = 0,
        withdrawn: bool = False,
        traces: bool = True,
    ) -> Iterator[LoggedBend]:
        """Give each bend once, in its newest version, oldest bend first.

        ``simulated`` None gives rehearsals and real bends; ``since_seq`` leaves out what has no row
        after that number (``row_seq``), ``until_seq`` reads the log as it was up to that row, and
        ``after_place`` starts behind that bend (``seq``); ``withdrawn`` gives those taken back as
        well; without ``traces`` their traces are left empty, which reads much faster.
        """
        place = after_place
        size = _PAGE_WITH_TRACES if traces else _PAGE
        columns = _columns(traces=traces)
        while True:
            page = self._rows(
                f"SELECT {columns} FROM bend WHERE place > :place AND +seq > :since"  # noqa: S608 - our own columns
                f" AND +seq <= :until AND {_NEWEST}"
                " AND (:simulated IS NULL OR simulated = :simulated)"
                " AND (:withdrawn OR NOT withdrawn) ORDER BY place LIMIT :page",
                {
                    "place": place,
                    "since": since_seq,
                    "until": 2**62 if until_seq is None else until_seq,
                    "simulated": simulated,
                    "withdrawn": withdrawn,
                    "page": size,
                },
            )
            yield from self._with_hits(page)
            if len(page) < size:
                return
            place = page[-1]["place"]

    def bends_as_of(
        self, seq: int, *, simulated: bool, after_place: int = 0
    ) -> Iterator[LoggedBend]:
        """Give what taught when bend row ``seq`` was the newest, in the order in which it did.

        Later bends, corrections and withdrawals are left out: what is learned from these is, bit
        for bit, what was learned then. Traces are left empty.
        """
        return self.bends(
            simulated=simulated,
            until_seq=seq,
            after_place=after_place,
            withdrawn=True,
            traces=False,
        )

    def runs(self, job: str | None = None, simulated: bool | None = None) -> tuple[LoggedRun, ...]:
        """Give the runs with their inputs, oldest first; of one job, real or rehearsed ones."""
        found = self._rows(
            f"SELECT {_columns('run')} FROM run"  # noqa: S608 - our own columns
            " WHERE (:job IS NULL OR job = :job)"
            " AND (:simulated IS NULL OR simulated = :simulated) ORDER BY seq",
            {"job": job, "simulated": simulated},
        )
        pages = (found[at : at + _PAGE] for at in range(0, len(found), _PAGE))
        return tuple(itertools.chain.from_iterable(map(self._with_inputs, pages)))

    def over_bent_runs(self, *, simulated: bool) -> frozenset[str]:
        """Name the runs that have a bend which stands in the log as over-bent."""
        found = self._rows(
            "SELECT DISTINCT run FROM bend WHERE verdict = 'over' AND NOT withdrawn"  # noqa: S608 - our own columns
            f" AND simulated = :simulated AND {_NEWEST}",
            {"simulated": simulated, "until": 2**62},
        )
        return frozenset(str(row["run"]) for row in found)

    def inputs_kept(self) -> int:
        """Give how many inputs of runs there are, those of ways that don't count among them."""
        (row,) = self._rows("SELECT count(*) AS many FROM run_input", {}) or ({"many": 0},)
        return int(row["many"])

    def unfinished(self, job: str, *, simulated: bool) -> LoggedRun | None:
        """Give this store's own newest run of the job if a tube may still be in work, else None."""
        found = self._rows(
            f"SELECT {_columns('run')} FROM run"  # noqa: S608 - our own columns
            " WHERE job = :job AND simulated = :simulated"
            " AND origin = (SELECT store_id FROM store) ORDER BY seq DESC LIMIT 1",
            {"job": job, "simulated": simulated},
        )
        return next((run for run in self._with_inputs(found) if run.unfinished), None)

    def bend(self, which: str | int) -> LoggedBend:
        """Give a bend's newest version by its number, its id, or the beginning of its id.

        A correction that changes no hit is kept without a trace: the bend has the one before.
        Refusal when there is none such, or the beginning fits several.
        """
        versions = self.history(self._bend_id(str(which)))
        newest = versions[-1]
        trace = next((each.record.trace for each in versions[::-1] if each.record.trace), b"")
        return replace(newest, record=replace(newest.record, trace=trace))

    def numbers(self) -> dict[int, int]:
        """Give the number that people call each bend by, by its place (``seq``).

        The first bend that this store took in is 1, the next 2, withdrawn ones and rehearsals among
        them. No correction, withdrawal or merge ever moves a number from one bend to another.
        """
        found = self._tuples(
            "SELECT seq FROM bend INDEXED BY bend_version WHERE seq = place ORDER BY place", []
        )
        return {seq: number for number, (seq,) in enumerate(found, 1)}

    def history(self, bend_id: str) -> list[LoggedBend]:
        """Give every version of a bend, oldest first; the last one counts."""
        page = self._rows(
            f"SELECT {_columns()} FROM bend WHERE bend_id = :id ORDER BY version, row_id",  # noqa: S608 - our own columns
            {"id": bend_id},
        )
        if not page:
            raise Refusal(f"{self.path}: no bend {_shown(bend_id)} is logged here")
        return list(self._with_hits(page))

    def last_seq(self) -> int:
        """Give the number of the newest row of any bend, 0 when there is none."""
        (row,) = self._rows("SELECT max(seq) AS seq FROM bend", {}) or ({"seq": None},)
        return int(row["seq"] or 0)

    def oldest_changed(self, since_seq: int, until_seq: int) -> int | None:
        """Give the place of the oldest bend with a row after the first number, up to the second.

        None: there is none.
        """
        (row,) = self._rows(
            "SELECT min(+place) AS place FROM bend WHERE seq > :since AND seq <= :until",
            {"since": since_seq, "until": until_seq},
        ) or ({"place": None},)
        return None if row["place"] is None else int(row["place"])

    def finding(self, kind: str, key: str) -> dict[str, Any] | None:
        """Give the latest finding of that kind and key; this store's own go before merged ones."""
        return self.findings(kind).get(key)

    def findings(self, kind: str) -> dict[str, dict[str, Any]]:
        """Give the latest finding of each key, by key."""
        found = self._rows(
            "SELECT name, payload FROM finding WHERE kind = :kind"
            " ORDER BY origin = (SELECT store_id FROM store), seq",
            {"kind": kind},
        )
        try:
            return {row["name"]: json.loads(row["payload"]) for row in found}
        except (ValueError, RecursionError) as error:
            raise self._damaged(f"a finding of kind {_shown(kind)}", error) from error

    def entries(self, kind: str, key: str) -> list[Entry]:
        """Give every finding of that kind and key, oldest first."""
        found = self._rows(
            "SELECT wall_s, clock_synchronised, payload FROM finding"
            " WHERE kind = :kind AND name = :key ORDER BY seq",
            {"kind": kind, "key": key},
        )
        try:
            return [
                Entry(row["wall_s"], bool(row["clock_synchronised"]), json.loads(row["payload"]))
                for row in found
            ]
        except (ValueError, RecursionError) as error:
            raise self._damaged(f"a finding of kind {_shown(kind)}", error) from error

    def recorded(self, kind: str) -> list[tuple[str, dict[str, Any]]]:
        """Give every finding of that kind with its key, oldest first."""
        found = self._rows(
            "SELECT name, payload FROM finding WHERE kind = :kind ORDER BY seq", {"kind": kind}
        )
        try:
            return [(row["name"], json.loads(row["payload"])) for row in found]
        except (ValueError, RecursionError) as error:
            raise self._damaged(f"a finding of kind {_shown(kind)}", error) from error

    def first_on(self, bench: str, die: str, *, after_place: int, until_seq: int) -> int | None:
        """Give the place of the first real bend that teaches on a die after that place.

        The log is taken as it stood at row ``until_seq``.
        """
        for row in self._rows(
            "SELECT place FROM bend WHERE place > :after AND bench = :bench AND die = :die"  # noqa: S608 - our own columns
            f" AND NOT simulated AND NOT withdrawn AND faults = '[]' AND {_NEWEST}"
            " ORDER BY place LIMIT 1",
            {"after": after_place, "bench": bench, "die": die, "until": until_seq},
        ):
            return int(row["place"])
        return None

    def place_of(self, bend_id: str) -> int | None:
        """Give the place (``seq``) of a bend; None when it isn't logged here."""
        (row,) = self._rows("SELECT min(place) AS place FROM bend WHERE bend_id = :id",
                            {"id": bend_id}) or ({"place": None},)  # fmt: skip
        return None if row["place"] is None else int(row["place"])

    def carried(self, bench: str, die: str, *, simulated: bool = False) -> list[SetupBent]:
        """Give the setups that a die has bent on a bench, with how often, by their newest bend.

        Bends that were taken back don't count, nor those without a hit.
        """
        found = self._rows(
            "SELECT setup, lot, max(bend_angle) AS angle, count(*) AS bends, max(place) AS newest,"  # noqa: S608 - our own columns
            " max(wall_s) AS wall_s"
            " FROM bend WHERE bench = :bench AND die = :die AND simulated = :simulated"
            f" AND NOT withdrawn AND {_NEWEST} AND EXISTS (SELECT 1 FROM hit WHERE seq = bend.seq)"
            " GROUP BY setup, lot ORDER BY newest",
            {"bench": bench, "die": die, "simulated": simulated, "until": 2**62},
        )
        try:
            return [
                SetupBent(
                    json.loads(row["setup"]), row["lot"], row["angle"], row["bends"],
                    row["newest"], row["wall_s"],
                )
                for row in found
            ]  # fmt: skip
        except (ValueError, RecursionError) as error:
            raise self._damaged("a bend's setup", error) from error

    def cached(self, name: str) -> tuple[int, bytes] | None:
        """Give what the writer kept under that name and the row number it stands for."""
        for row in self._rows("SELECT seq, content FROM cache WHERE name = :name", {"name": name}):
            return int(row["seq"]), bytes(row["content"])
        return None

    def cached_heads(self, begins: str, size: int) -> list[tuple[str, int, bytes]]:
        """Give name, row number and first bytes of everything cached under names that begin so."""
        found = self._rows(
            "SELECT name, seq, substr(content, 1, :size) AS head FROM cache"
            " WHERE substr(name, 1, :length) = :begins ORDER BY name",
            {"size": size, "begins": begins, "length": len(begins)},
        )
        return [(row["name"], int(row["seq"]), bytes(row["head"])) for row in found]

    def check(self) -> list[str]:
        """Look through the whole store: give each fault in one sentence; none when it is whole."""
        return problems(self.path)

    def _bend_id(self, which: str) -> str:
        if which.isdecimal() and len(which) < 8:
            return self._numbered(int(which))
        found = self._rows(
            "SELECT DISTINCT bend_id FROM bend WHERE substr(bend_id, 1, :length) = :head"
            " ORDER BY bend_id LIMIT 2",
            {"head": which, "length": len(which)},
        )
        if not found or not which:
            raise Refusal(f"{self.path}: no bend {_shown(which)} is logged here; see benchmate log")
        if len(found) > 1 and found[0]["bend_id"] != which:
            raise Refusal(f"{self.path}: several bends begin with {_shown(which)}; give more of it")
        return str(found[0]["bend_id"])

    def _numbered(self, number: int) -> str:
        """Give the id of the bend that people call by this number, as in ``numbers``."""
        found = self._rows(
            # Counted in the index: the rows themselves are long.
            "SELECT bend_id FROM bend WHERE seq = (SELECT seq FROM bend INDEXED BY bend_version"
            " WHERE seq = place ORDER BY place LIMIT 1 OFFSET :before)",
            {"before": max(number - 1, 0)},
        )
        if not found or number < 1:
            raise Refusal(f"{self.path}: no bend {number} is logged here; {self._range()}")
        return str(found[0]["bend_id"])

    def _range(self) -> str:
        many = len(self.numbers())
        return {0: "there are none", 1: "there is only bend 1"}.get(many, f"they are 1 to {many}")

    def _with_hits(self, page: Sequence[rows.Row]) -> Iterator[LoggedBend]:
        marks = ", ".join("?" * len(page))
        hits: dict[int, list[rows.HitRow]] = {}
        for seq, *hit in self._tuples(
            f"SELECT seq, {', '.join(rows.HIT_COLUMNS)} FROM hit WHERE seq IN ({marks})"  # noqa: S608 - our own columns
            " ORDER BY seq, number",
            [row["seq"] for row in page],
        ):
            hits.setdefault(seq, []).append(tuple(hit))
        for row in page:
            try:
                logged = rows.logged_bend(row, hits.get(row["seq"], ()))
            except (ValueError, TypeError, RecursionError) as error:
                raise self._damaged(f"bend row {row['seq']}", error) from error
            yield logged

    def _with_inputs(self, found: Sequence[rows.Row]) -> Iterator[LoggedRun]:
        marks = ", ".join("?" * len(found))
        names = rows.CONTENT[VERSION]["run_input"]
        inputs: dict[str, list[rows.Row]] = {}
        for values in self._tuples(
            f"SELECT {', '.join(names)} FROM run_input WHERE run_id IN ({marks})",  # noqa: S608 - our own columns
            [row["run_id"] for row in found],
        ):
            row = dict(zip(names, values, strict=True))
            inputs.setdefault(row["run_id"], []).append(row)
        for row in found:
            try:
                run = rows.logged_run(row, runs.that_count(inputs.get(row["run_id"], ())))
            except (ValueError, TypeError, RecursionError) as error:
                raise self._damaged(f"run row {row['seq']}", error) from error
            yield run

    def _damaged(self, what: str, error: Exception) -> Failure:
        return Failure(
            f"{self.path}: {what} is damaged ({error}); benchmate log rescue saves what is whole"
        )

    def _rows(self, query: str, values: dict[str, Any]) -> list[rows.Row]:
        if self._connection is None:
            return []
        try:
            cursor = self._connection.execute(query, values)
            names = [column[0] for column in cursor.description]
            return [dict(zip(names, row, strict=True)) for row in cursor]
        except sqlite3.Error as error:
            raise database.spoken(self.path, error) from error

    def _tuples(self, query: str, values: list[Any]) -> list[tuple[Any, ...]]:
        if self._connection is None:
            return []
        try:
            return self._connection.execute(query, values).fetchall()
        except sqlite3.Error as error:
            raise database.spoken(self.path, error) from error


def _columns(table: str = "bend", *, traces: bool = True) -> str:
    # The newest layout's content holds every column that any earlier one had.
    names = (*rows.local(table), *rows.CONTENT[VERSION][table])
    return ", ".join(name for name in names if traces or name != "trace")


def _shown(text: str) -> str:
    return printable(text, limit=40)
