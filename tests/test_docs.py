"""What the docs say is so: commands, options, keys, pins, links and dependencies."""

import argparse
import importlib
import re
import runpy
import shlex
import tomllib
import typing
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from benchmate import stream
from benchmate.cli import COMMANDS
from benchmate.shop import tables

ROOT = Path(__file__).parents[1]
PAGES = sorted(
    [
        *ROOT.glob("*.md"),
        *(ROOT / "docs").rglob("*.md"),
        *(ROOT / "hw").glob("*.md"),
        *(ROOT / "configs").glob("*.md"),
    ]
)
DRAWING = runpy.run_path(str(ROOT / "hw" / "draw_wiring.py"))
BENCHMATE_LINE = re.compile(r"^ {4}(?:\$ )?(?:benchmate|sh \S*hw/setup\.sh)((?: .*)?)$", re.M)


def parser_of(command: str) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog=command, exit_on_error=False)
    importlib.import_module(f"benchmate.commands.{command}").prepare(parser)
    return parser


def options_of(parser: argparse.ArgumentParser) -> Iterator[str]:
    """Give every option of a command and of the commands under it."""
    for action in parser._actions:  # argparse has no public way to list them
        if isinstance(action, argparse._SubParsersAction):
            for name, under in action.choices.items():
                yield name
                yield from options_of(under)
        yield from (x for x in action.option_strings if x.startswith("--") and x != "--help")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_a_page_that_names_all_its_options(command):
    told = (ROOT / "docs" / "commands" / f"{command}.md").read_text()
    for option in options_of(parser_of(command)):
        assert re.search(rf"(?<![\w-]){re.escape(option)}(?![\w-])", told), option


@pytest.mark.parametrize("command", COMMANDS)
def test_the_index_lists_every_command(command):
    assert f"[{command}]({command}.md)" in (ROOT / "docs/commands/README.md").read_text()


def examples() -> Iterator[tuple[str, str]]:
    for page in PAGES:
        for words in BENCHMATE_LINE.findall(page.read_text()):
            line = re.sub(r"\s{2,}.*| #.*", "", words.strip())
            if line and not set(line) & set("[|<>") and "..." not in line:
                yield page.name, line


@pytest.mark.parametrize(("page", "line"), sorted(set(examples())))
def test_every_example_of_a_command_line_is_one_that_the_command_takes(page, line):
    words = shlex.split(line)
    if words[0] in ("--shop", "--store"):
        words = words[2:]
    command, *rest = words
    # What hw/setup.sh answers by itself, and what stands for any command.
    if command in ("test", "update", "link", "--undo", "--version") or command.isupper():
        return
    parser_of(command).parse_args(rest)


@pytest.mark.parametrize("event", typing.get_args(stream.Event), ids=lambda e: e.__name__)
def test_every_event_of_the_stream_is_explained_with_its_keys(event):
    page = "align" if event is stream.Aligned else "watch"
    rows = (ROOT / "docs" / "commands" / f"{page}.md").read_text().splitlines()
    row = next(row for row in rows if row.startswith(f"| `{event.__name__.lower()}` |"))
    assert set(event.__struct_fields__) <= set(re.findall(r"`(\w+)`", row))


def test_every_command_of_the_stream_is_explained():
    told = (ROOT / "docs" / "commands" / "watch.md").read_text()
    for word in (*stream.BEND_COMMANDS, *stream.REHEARSAL_COMMANDS):
        assert re.search(rf"`{word}[ `]", told), word
    told = (ROOT / "docs" / "commands" / "align.md").read_text()
    for word in stream.SWING_COMMANDS:
        assert f"`{word}`" in told, word


def links() -> Iterator[tuple[Path, str]]:
    for page in PAGES:
        for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text()):
            if not target.startswith(("http", "#")):
                yield page, target.split("#")[0]


@pytest.mark.parametrize(
    ("page", "target"), [pytest.param(*x, id=f"{x[0].stem}-{x[1]}") for x in links()]
)
def test_every_link_leads_to_a_file(page, target):
    assert (page.parent / target).exists()


def test_every_decision_is_in_the_index():
    index = (ROOT / "docs/decisions/README.md").read_text()
    pages = sorted(x.name for x in (ROOT / "docs/decisions").glob("[0-9]*.md"))
    assert pages
    assert re.findall(r"\]\((\d\S+)\)", index) == pages


def test_every_dependency_has_its_reason():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = [
        *project["dependencies"],
        *(x for extra in project["optional-dependencies"].values() for x in extra),
    ]
    page = (ROOT / "docs/decisions/0005-pinned-versions.md").read_text()
    rows = [row.split("|")[1] for row in page.splitlines() if row.startswith("| ")]
    explained = {name for row in rows for name in re.split(r",\s*", row.strip())}
    names = {re.split(r"[<>=; ]", line)[0] for line in wanted}
    assert names == explained - {"package", "---"}


def test_the_wiring_is_drawn_as_the_script_draws_it():
    assert (ROOT / "hw" / "wiring.svg").read_text() == DRAWING["drawing"]()


def test_the_wiring_table_names_the_starter_shops_pins_and_where_they_are():
    signals = yaml.safe_load((ROOT / "configs" / "bench.yaml").read_text())["signals"]
    pins = [signals["buzzer"], *signals["lights"], signals["foot_switch"]]
    names = [name for row in DRAWING["HEADER"] for name in row]
    rows = re.findall(
        r"^\| .+? \| GPIO(\d+) \| (\d+) \| (\d+) \|$", (ROOT / "hw" / "README.md").read_text(), re.M
    )
    assert [int(bcm) for bcm, _, _ in rows] == pins
    drawn = {wire.pin for part in DRAWING["PARTS"] for wire in part.wires}
    for bcm, pin, ground in rows:
        assert names[int(pin) - 1] == f"GPIO{bcm}"
        assert names[int(ground) - 1] == "GND"
        assert {int(pin), int(ground)} <= drawn


def test_every_chip_has_its_wiring():
    table = (ROOT / "hw" / "README.md").read_text().upper()
    for chip in typing.get_args(tables.ChipKind):
        assert f"| {chip.upper()} " in table or f", {chip.upper()} |" in table
