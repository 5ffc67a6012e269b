"""The log in words: the list of bends, and all of one bend."""

import time
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from benchmate.reports.judged import Came
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.store import BendRecord, LoggedBend

MARKS = {
    "m": "measured by a person",
    "r": "a rehearsal: teaches no real setup",
    "f": "a fault came while it was bent: teaches nothing",
    "w": "withdrawn: teaches nothing",
    "?": "nothing kept the clock right then; the order is by number",
}
RESULTS = {
    "good": "good: in tolerance, by the verdict at the bender or on what was measured since",
    "unsure": "unsure: measure it, and log amend says the rest",
    "unknown": "-: nothing tells",
}
_RESULT_WIDE = 10


def table(
    bends: "Iterable[tuple[LoggedBend, Came]]",
    numbers: dict[int, int],
    columns: int,
    *,
    whole: bool,
) -> Iterator[str]:
    """Give the list, a line a bend, and below it what its short words and letters stand for.

    ``whole``: all bends of the log are given, but for withdrawn ones.
    """
    width = 18 + min(max(columns - 80, 0), 40)
    yield (
        f"{'no.':>4} {'when':12} {'job and bend':{width}}{'wanted':>7}{'hits':>5}{'came to':>9}"
        f"{'+-':>6}  result"
    )
    said: dict[str, None] = {}
    count = 0
    for logged, came in bends:
        count += 1
        record = logged.record
        number = numbers[logged.seq]
        letters = marks(logged)
        angle, doubt = ("-", "") if came.angle is None else _judged(came)
        bend = str(record.bend)
        job = f"{printable(record.job, width - 2 - len(bend))} {bend}"
        when = shown_time(logged.wall_s, logged.clock_synchronised, "%m-%d %H:%M")
        line = (
            f"{number:>4} {when:12} {job:{width}}{came.right:>7.1f}{len(record.hits):>5}"
            f"{angle:>9}{doubt:>6}  {result_of(came):{_RESULT_WIDE}} {letters}"
        )
        yield line.rstrip()
        said |= dict.fromkeys((came.result, *letters, *("?" if when.endswith("?") else "")))
    yield ""
    yield "came to: the bend angle as judged, +- what holds 19 times in 20"
    yield from (RESULTS[word] for word in RESULTS if word in said)
    yield from (f"{letter}: {told}" for letter, told in MARKS.items() if letter in said)
    if whole and count < len(numbers):
        yield "numbers left out are of withdrawn bends: --all shows them"


def one(versions: "list[LoggedBend]", came: Came, number: int) -> Iterator[str]:
    """Give all that is known of one bend, its newest version last."""
    newest = versions[-1]
    record = newest.record
    of = f", lot {record.lot}" if record.lot else ""
    yield printable(f"{name(newest, number)} to {record.bend_angle:.2f} deg", 400)
    yield printable(f"on bench {newest.bench}: die {record.die}, tube {record.tube}{of}", 400)
    yield outcome(record, came)
    said = ", ".join([f"verdict: {record.verdict}", *(MARKS[each] for each in marks(newest))])
    yield f"{said}; id {record.bend_id}" + (f"; run {record.run}" if record.run else "")
    for count, hit in enumerate(record.hits, 1):
        rest = "-" if hit.rest is None else f"{hit.rest:.2f}"
        yield (
            f"  hit {count}: to stop at {hit.stop_angle:.2f} (sd {hit.stop_sd:.2f}),"
            f" peak {hit.peak:.2f}, rest {rest}"
            + ("" if hit.measured is None else f", measured {hit.measured:.2f}")
            + (f" by {hit.how_measured}" if hit.measured is not None else "")
        )
    yield from (printable(f"  fault: {fault}", 400) for fault in record.faults)
    yield from (printable(f"  note: {each}", 400) for each in record.notes)
    if record.note:
        yield printable(f"  note: {record.note}", 400)
    yield f"  trace: {len(record.trace)} bytes" if record.trace else "  no trace"
    yield from map(_version, versions)


def outcome(record: "BendRecord", came: Came) -> str:
    """Give what the bend came to, in a sentence."""
    band = f"tolerance {record.tolerance:g} deg"
    if abs(came.right - record.bend_angle) > 0.005:
        band += f" from the drawing's {came.right:.2f}"
    told = {
        "good": "in tolerance",
        "over": f"{came.off:.1f} deg over: out of tolerance",
        "short": f"{-came.off:.1f} deg short: out of tolerance",
        "unsure": "whether that is in tolerance a protractor must tell",
        "unknown": "nothing tells whether it is in tolerance",
    }[came.result]
    if came.angle is None:
        known = {"good": "in tolerance", "over": "over", "short": "short"}.get(came.result)
        return (
            f"{known}, by how much is not kept; {band}"
            if known
            else f"what it came to is not known; {band}"
        )
    angle, doubt = _judged(came)
    return f"came to {angle} deg, give or take {doubt}: {told} ({band})"


def name(logged: "LoggedBend", number: int) -> str:
    """Name a bend so that a wrong number is seen: "bend 2 of the log (gate, bend 1)"."""
    return f"bend {number} of the log ({printable(logged.record.job)}, bend {logged.record.bend})"


def marks(logged: "LoggedBend") -> str:
    """Give the letters that stand behind a bend."""
    record = logged.record
    stand = (
        ("m", any(hit.measured is not None for hit in record.hits)),
        ("r", record.simulated),
        ("f", bool(record.faults)),
        ("w", record.withdrawn),
    )
    return "".join(letter for letter, is_so in stand if is_so)


def shown_time(wall_s: float, synchronised: bool, shape: str) -> str:
    """Show the wall clock's time, with a question mark where nothing kept it right."""
    try:
        shown = time.strftime(shape, time.localtime(wall_s))
    except (OverflowError, ValueError, OSError):
        return "?"
    return shown if synchronised else f"{shown}?"


def _judged(came: Came) -> tuple[str, str]:
    return f"{came.angle:.1f}", f"{2 * (came.sd or 0.0):.1f}"


def result_of(came: Came) -> str:
    """Give a bend's result as the list shows it: "good", "0.8 over"."""
    off = "" if came.angle is None else f"{abs(came.off):.1f} "
    return {"over": f"{off}over", "short": f"{off}short", "unknown": "-"}.get(
        came.result, came.result
    )


def _version(each: "LoggedBend") -> str:
    hits = len(each.record.hits)
    said = [f"{hits} hit{'' if hits == 1 else 's'}"]
    said += [
        f"measured {hit.measured:.2f} after hit {count}"
        for count, hit in enumerate(each.record.hits, 1)
        if hit.measured is not None
    ]
    said += ["withdrawn"] if each.record.withdrawn else []
    when = shown_time(each.wall_s, each.clock_synchronised, "%Y-%m-%d %H:%M")
    return f"  version {each.version}, row {each.row_seq}, {when}, {', '.join(said)}"
