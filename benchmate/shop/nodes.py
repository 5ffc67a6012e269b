"""A shop file's YAML as plain nodes with their lines: text, items, keys; nothing else gets in.

Values stay the text that was written, so that ``010`` is ten and ``no`` a word. The file is
measured before it is parsed, and counted while it is parsed, so that none can be made to cost much.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import yaml

from benchmate.wording import is_printable, printable

LARGEST_BYTES = 64 * 1024
DEEPEST = 20
_OPENED = {
    "while parsing a flow mapping": ("{", "}"),
    "while parsing a flow sequence": ("[", "]"),
}
MOST_NODES = 1000


@dataclass(frozen=True, slots=True)
class ScalarNode:
    """One value as it was written, without its quotes."""

    line: int
    text: str


@dataclass(frozen=True, slots=True)
class SequenceNode:
    """A list."""

    line: int
    items: tuple["Node", ...]


@dataclass(frozen=True, slots=True)
class MappingNode:
    """Keys with their values, in the order of the file; a key may come twice."""

    line: int
    pairs: tuple[tuple[ScalarNode, "Node"], ...]


Node: TypeAlias = ScalarNode | SequenceNode | MappingNode


class UnreadableError(Exception):
    """The file is none that can be read further: which line (0: none), and one sentence."""

    def __init__(self, line: int, says: str) -> None:
        super().__init__(says)
        self.line = line
        self.says = says


def read_nodes(path: Path) -> Node:
    """Read one YAML document; UnreadableError for anything that a shop file never needs."""
    return parse_nodes(_text(_bytes(path)))


def parse_nodes(text: str) -> Node:
    """Read one YAML document out of its text; UnreadableError as ``read_nodes`` raises it."""
    events = _watched(text)
    try:
        first = next(events, None)
        if first is None:
            raise UnreadableError(1, "the file is empty; write its keys, as in the starter shop")
        node = _node(first, events)
        next(events, None)  # whatever follows is the watch's to refuse
    except yaml.MarkedYAMLError as error:
        raise UnreadableError(*_told(error, text)) from error
    except yaml.YAMLError as error:
        says = printable(str(error))
        raise UnreadableError(0, f"not YAML: {says}; write key: value lines") from error
    return node


def _told(error: yaml.MarkedYAMLError, text: str) -> tuple[int, str]:
    """Say which line is wrong and why, where the parser only says where it stopped."""
    mark = error.problem_mark or error.context_mark
    line = mark.line + 1 if mark else 0
    lines = text.split("\n")
    indent = re.match(r"[ \t]*", lines[line - 1] if 0 < line <= len(lines) else "")
    if indent is not None and "\t" in indent[0]:
        return line, "a tab stands before the text; use spaces"
    opened = error.context_mark
    if opened is not None and error.context in _OPENED:
        bracket, end = _OPENED[error.context]
        return (
            opened.line + 1,
            f"the {bracket} that opens here isn't closed; write {end} after it",
        )
    says = printable(error.problem or error.context or "it can't be parsed")
    if says == "mapping values are not allowed here":
        return line, "a second : stands in the line; put quotes round a value that holds one"
    return line, f"not YAML: {says}; write key: value lines"


def _bytes(path: Path) -> bytes:
    try:
        if not path.is_file():
            missing = not path.exists()
            raise UnreadableError(
                0, "there is no such file" if missing else "that is no ordinary file"
            )
        with path.open("rb") as file:
            found = file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise UnreadableError(0, f"it can't be read ({error.strerror})") from error
    if len(found) > LARGEST_BYTES:
        raise UnreadableError(
            0, f"larger than {LARGEST_BYTES // 1024} kB; a shop file is far smaller"
        )
    return found


def _text(found: bytes) -> str:
    try:
        text = found.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = found.count(b"\n", 0, error.start) + 1
        raise UnreadableError(line, "not UTF-8 text; save the file as UTF-8") from error
    for number, line_text in enumerate(text.split("\n"), start=1):
        plain = line_text.removesuffix("\r").replace("\t", " ")
        if not is_printable(plain):
            shown = next(letter for letter in plain if not is_printable(letter))
            raise UnreadableError(
                number, f"holds the control character {printable(shown)}; remove it"
            )
    return text


def _watched(text: str) -> Iterator[yaml.Event]:
    """Give the parser's events of nodes, stopping at the first that no shop file needs."""
    count = depth = documents = 0
    for event in yaml.parse(text, Loader=yaml.SafeLoader):
        documents += isinstance(event, yaml.DocumentStartEvent)
        if documents > 1:
            raise UnreadableError(_line(event), "a second document starts; one file holds one")
        if isinstance(event, yaml.AliasEvent):
            raise UnreadableError(_line(event), "an alias (*) is used; write the value itself")
        if isinstance(event, yaml.NodeEvent):
            count += 1
            if event.anchor is not None:
                raise UnreadableError(_line(event), "an anchor (&) is used; write the value itself")
            if getattr(event, "tag", None) is not None:
                raise UnreadableError(_line(event), "a tag (!) is used; write the plain value")
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        if count > MOST_NODES:
            raise UnreadableError(_line(event), f"more than {MOST_NODES} values; split the file")
        if depth > DEEPEST:
            raise UnreadableError(
                _line(event), f"nested more than {DEEPEST} deep; write it flatter"
            )
        if isinstance(event, (yaml.NodeEvent, yaml.CollectionEndEvent)):
            yield event


def _node(event: yaml.Event, events: Iterator[yaml.Event]) -> Node:
    line = _line(event)
    if isinstance(event, yaml.ScalarEvent):
        return ScalarNode(line, event.value)
    if isinstance(event, yaml.SequenceStartEvent):
        return SequenceNode(line, tuple(_node(each, events) for each in _until_end(events)))
    pairs = []
    for each in _until_end(events):
        key = _node(each, events)
        if not isinstance(key, ScalarNode):
            raise UnreadableError(line, "a key is a list or a table; keys are plain words")
        pairs.append((key, _node(next(events), events)))
    return MappingNode(line, tuple(pairs))


def _until_end(events: Iterator[yaml.Event]) -> Iterator[yaml.Event]:
    for event in events:
        if isinstance(event, yaml.CollectionEndEvent):
            return
        yield event


def _line(event: yaml.Event) -> int:
    return event.start_mark.line + 1 if event.start_mark else 0
