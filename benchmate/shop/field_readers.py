"""From nodes to frozen structs by tables: one row a key, and one walker that tells every error.

A table row names the key as written, the struct's field, and a reader. A reader takes a node, the
field's path for people ("bends 2 angle") and the report; it gives the value, or says what is wrong
and gives None.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Generic, NamedTuple, TypeVar

from benchmate.shop.nodes import MappingNode, Node, ScalarNode, SequenceNode, UnreadableError
from benchmate.shop.struct import ShopStruct
from benchmate.wording import is_printable, nearest, printable

LONGEST_TEXT = 120
LONGEST_NAME = 64
FILE_NAME = r"[A-Za-z0-9_-][A-Za-z0-9 _.-]{0,63}"
NAME_RULE = (
    f"a name is up to {LONGEST_NAME} letters A-Z a-z, digits, space, - _ and ., not starting with ."
)


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong in one file: where, what was found, what would be right."""

    file: str
    line: int
    """0: the file as a whole."""
    field: str
    """The key's path, as in "bends 2 angle"; empty for the file as a whole."""
    says: str

    def __str__(self) -> str:
        """Give ``file:line: field: what was found; what would be right``."""
        return ": ".join(self.parts())

    def parts(self) -> tuple[str, str]:
        """Give ``file:line``, and ``field: what was found; what would be right``."""
        where = f"{self.file}:{self.line}" if self.line else self.file
        return where, f"{self.field}: {self.says}" if self.field else self.says


@dataclass(slots=True)
class Report:
    """What is wrong in one file, and the line of each of its keys."""

    file: str
    folder: Path | None = None
    """Where the file lies; None: nowhere, and it can name no other file."""
    problems: list[Problem] = field(default_factory=list)
    lines: dict[str, int] = field(default_factory=dict)

    def say(self, line: int, path: str, says: str) -> None:
        """Keep a problem of that line."""
        self.problems.append(Problem(self.file, line, path, says))

    def say_of(self, path: str, says: str) -> None:
        """Keep a problem of that key, at the line where the key stands."""
        self.say(self.lines.get(path, 0), path, says)


Reader = Callable[[Node, str, Report], Any]
P = TypeVar("P", bound=ShopStruct)
T = TypeVar("T")


class Row(NamedTuple):
    """One key of a file."""

    key: str
    field: str
    read: Reader
    needed: bool = True
    found: str = ""
    """Where a person finds it, for one who left it out."""


class Table(NamedTuple, Generic[P]):
    """One kind of table in a file: its struct, its keys, and what its values owe each other."""

    what: Callable[..., P]
    rows: tuple[Row, ...]
    check: Callable[[P], Iterator[tuple[str, str]]] = lambda _: iter(())
    """Gives (key, what is wrong) pairs."""


def read_table(table: Table[P], node: Node, path: str, report: Report) -> P | None:
    """Make the struct of a node; None when anything was wrong, all of it said."""
    if not isinstance(node, MappingNode):
        example = table.rows[0].key
        report.say(node.line, path, f"{_kind(node)} is written; write keys, as in {example}: ...")
        return None
    before = len(report.problems)
    rows = {row.key: row for row in table.rows}
    values: dict[str, Any] = {}
    for key, value in node.pairs:
        here = f"{path} {key.text}".lstrip()
        row = rows.get(key.text)
        if row is None:
            report.say(key.line, printable(here, LONGEST_NAME), _unknown(key.text, rows))
        elif here in report.lines:
            report.say(key.line, here, f"written before in line {report.lines[here]}; keep one")
        else:
            report.lines[here] = key.line
            values[row.field] = row.read(value, here, report)
    for row in table.rows:
        if row.needed and row.field not in values:
            where = row.found or "it has to be written"
            report.say(node.line, f"{path} {row.key}".lstrip(), f"missing; {where}")
    if len(report.problems) > before:
        return None
    part = table.what(**values)
    for key_text, says in table.check(part):
        report.say_of(f"{path} {key_text}".strip(), says)
    return part if len(report.problems) == before else None


def table_of(table: Table[P]) -> Reader:
    """Give a reader of one nested table."""
    return lambda node, path, report: read_table(table, node, path, report)


def list_of(read: Reader, least: int, most: int) -> Reader:
    """Give a reader of a list of ``least`` to ``most`` values, as a tuple."""
    size = str(least) if least == most else f"{least} to {most}"

    def items(node: Node, path: str, report: Report) -> tuple[Any, ...] | None:
        if not isinstance(node, SequenceNode):
            report.say(node.line, path, f"{_kind(node)} is written; write a list of {size}")
            return None
        if not least <= len(node.items) <= most:
            report.say(node.line, path, f"{len(node.items)} in the list; write {size}")
        values = []
        for number, item in enumerate(node.items, 1):
            report.lines[f"{path} {number}"] = item.line
            values.append(read(item, f"{path} {number}", report))
        return tuple(values)

    return items


def list_or_file(read_list: Reader, read_file: Callable[[Path], Any]) -> Reader:
    """Give a reader of a list, or of the name of a file beside the shop file that holds it."""

    def read(node: Node, path: str, report: Report) -> Any:
        if not isinstance(node, ScalarNode):
            return read_list(node, path, report)
        if not re.fullmatch(FILE_NAME, node.text) or report.folder is None:
            shown = printable(node.text, 40)
            report.say(node.line, path, f"'{shown}' is neither a list nor a file beside this one")
            return None
        try:
            return read_file(_beside(report.folder, node.text))
        except UnreadableError as error:
            where = f"{node.text}:{error.line}" if error.line else node.text
            report.say(node.line, path, f"{where}: {error.says}")
            return None

    return read


def _beside(folder: Path, file: str) -> Path:
    """Give the file of that name; UnreadableError when it really lies elsewhere."""
    path = folder / file
    if path.resolve().parent != folder.resolve():
        raise UnreadableError(0, "a link that leads elsewhere; put the file itself there")
    return path


def value_of(parse: Callable[[str], T]) -> Reader:
    """Give a reader of one value; ``parse`` raises ValueError with what is wrong and right."""

    def value(node: Node, path: str, report: Report) -> T | None:
        if not isinstance(node, ScalarNode):
            report.say(node.line, path, f"{_kind(node)} is written; write one value")
            return None
        if not node.text:
            report.say(node.line, path, "nothing is written; write a value or take the key out")
            return None
        try:
            return parse(node.text)
        except ValueError as error:
            report.say(node.line, path, str(error))
            return None

    return value


class Range(NamedTuple):
    """The span in which a number is plausible, with the unit to tell it in."""

    low: float
    high: float
    unit: str
    above_low: bool = False
    """True: the low end itself is not allowed."""


def number_of(parse: Callable[[str], float], limits: Range) -> Reader:
    """Give a reader of a number within limits."""
    low, high, unit, above_low = limits

    def within(text: str) -> float:
        number = parse(text)
        if not low <= number <= high or (above_low and number == low):
            span = f"more than {low:g} and up to" if above_low else f"from {low:g} to"
            shown = printable(text, 40)
            raise ValueError(f"{shown} is out of the span; write {span} {high:g} {unit}".rstrip())
        return number

    return value_of(within)


def choice_of(*words: str) -> Reader:
    """Give a reader of one word of a few."""

    def choose(text: str) -> str:
        if text not in words:
            raise ValueError(f"'{printable(text, 40)}' is none of them; write {_or(words, text)}")
        return text

    return value_of(choose)


def name(text: str) -> str:
    """Read a name that can be a file's; ValueError otherwise."""
    if (
        not re.fullmatch(rf"[A-Za-z0-9 _.-]{{1,{LONGEST_NAME}}}", text)
        or text.startswith(".")
        or ".." in text
        or text != text.strip()
    ):
        raise ValueError(f"'{printable(text, 40)}' can't be a name; {NAME_RULE}")
    return text


def free_text(text: str) -> str:
    """Read text for people: printable, one line, up to 120 characters."""
    if len(text) > LONGEST_TEXT:
        raise ValueError(
            f"'{printable(text, 40)}' is too long with {len(text)} characters; write"
            f" {LONGEST_TEXT} or fewer"
        )
    if not is_printable(text):
        raise ValueError(f"'{printable(text, 40)}' can't be shown; write one line of plain text")
    return text


def folder(text: str) -> str:
    """Read the whole path of a folder, from the root or the person's home."""
    if not free_text(text).startswith(("/", "~/")):
        raise ValueError(f"'{printable(text, 40)}' is no whole path; write one, as in /media/stick")
    return text


def yes_or_no(text: str) -> bool:
    """Read true, yes, false or no."""
    known = {"true": True, "yes": True, "false": False, "no": False}
    if text.lower() not in known:
        raise ValueError(f"'{printable(text, 40)}' is neither; write true or false")
    return known[text.lower()]


def whole_number(text: str) -> int:
    """Read a whole number in tens, or in sixteens as in 0x6a."""
    if re.fullmatch(r"[0-9]{1,9}", text):
        return int(text)
    if re.fullmatch(r"0x[0-9a-fA-F]{1,8}", text):
        return int(text, 16)
    raise ValueError(f"'{printable(text, 40)}' is no whole number; write digits, as in 18 or 0x6a")


def decimal(text: str) -> float:
    """Read a plain number without unit."""
    if re.fullmatch(r"-?([0-9]{1,12}(\.[0-9]{0,12})?|\.[0-9]{1,12})", text):
        return float(text)
    raise ValueError(f"'{printable(text, 40)}' is no number; write digits, as in 0.2")


def percentage(text: str) -> float:
    """Read a number of per cent, as in 2 %; a bare number is per cent as well."""
    try:
        return decimal(text.removesuffix("%").rstrip())
    except ValueError:
        raise ValueError(f"'{printable(text, 40)}' is no percentage; write it as 2 %") from None


def _kind(node: Node) -> str:
    kinds = {ScalarNode: "one value", SequenceNode: "a list", MappingNode: "a table of keys"}
    return kinds[type(node)]


def _unknown(key: str, rows: dict[str, Row]) -> str:
    close = nearest(key, rows)
    return f"no such key; did you mean {close}?" if close else f"no such key; {_or(tuple(rows))}"


def _or(words: tuple[str, ...], like: str = "") -> str:
    close = nearest(like, words)
    told = ", ".join(words)
    return f"one of {told}" + (f" (nearest: {close})" if close else "")
