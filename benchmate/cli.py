"""The command line: find the command, let it parse its options, run it, say what went wrong.

Nothing heavy is imported here: each command brings what it needs when it runs.
"""

import argparse
import importlib
import logging
import os
import re
import sys
from pathlib import Path
from typing import NoReturn, Protocol

from benchmate import __version__
from benchmate.errors import BenchmateError

COMMANDS = {
    "demo": "a whole simulated job on the screen, no hardware",
    "plan": "marks, turns, stop angles, cut length, warnings",
    "watch": "the live bend",
    "align": "swing the arm once; learn how the sensor sits",
    "learned": "what the bench knows of a die, tube, lot",
    "trial": "measurements of a trial piece in; start offset, radius, stretch out",
    "sheet": "the job on paper: marks to scale, the part, the table in bending order",
    "rehearse": "many simulated bends of a job at full speed, with the figures",
    "log": "list, show, replay, amend, export, merge",
    "check": "sensor, bus, pins, store, shop files: what works, what to do",
}


class CommandModule(Protocol):
    """What each module in ``benchmate.commands`` offers."""

    def prepare(self, parser: argparse.ArgumentParser) -> None:
        """Add the command's options."""
        ...

    def run(self, args: argparse.Namespace) -> int:
        """Do it; give the exit status. ``args.shop`` is a Path, ``args.store`` a Path or None."""
        ...


class Parser(argparse.ArgumentParser):
    """A parser that names the nearest of what it knows where a word is none of it."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong, and what may have been meant; exit status 2."""
        super().error(message + self._meant(message))

    def _meant(self, message: str) -> str:
        from benchmate.wording import nearest

        choice = re.search(r"invalid choice: '(.*?)'.*?\(choose from (.*)\)", message)
        if choice:
            word, known = choice[1], [each.strip(" '") for each in choice[2].split(",")]
        elif option := re.search(r"unrecognized arguments: (--[\w-]+)", message):
            word, known = option[1], self._long_options()
        else:
            return ""
        near = nearest(word, known)
        return f"; did you mean {near}?" if near else ""

    def _long_options(self) -> list[str]:
        return re.findall(r"--[\w-]+", self.format_help())


def main(argv: list[str] | None = None) -> int:
    """Run one command; give its exit status."""
    try:
        status = _run(sys.argv[1:] if argv is None else argv)
        sys.stdout.flush()
    except BenchmateError as error:
        _tell(str(error))
        return error.exit_status
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        # Whoever read our output is gone: let the interpreter's last flush go nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        _tell(f"{where}{error.strerror or error}")
        return 1
    return status


def _run(words: list[str]) -> int:
    parser, commands = _parsers(words)
    args, unknown = parser.parse_known_args(words)
    if unknown:
        # The command's own parser knows which of its options may have been meant.
        commands.get(args.command, parser).error(f"unrecognized arguments: {' '.join(unknown)}")
    # Faults have their place on the stream and the screen; this is for whoever runs the machine.
    wanted = os.environ.get("BENCHMATE_LOG", "").upper()
    logging.basicConfig(
        level=logging.getLevelNamesMapping().get(wanted, logging.ERROR),
        format="%(asctime)s %(name)s %(levelname)s %(message)s",
    )
    if args.command is None:
        parser.print_help()
        return 0
    return _module(args.command).run(args)


def _tell(what_is_wrong: str) -> None:
    """Say it on standard error, a line each, with nothing in it that steers a terminal."""
    from benchmate.wording import printable

    lines = [printable(line, 1000) for line in what_is_wrong.split("\n")]
    sys.stderr.write("benchmate: " + "\n".join(lines) + "\n")


def _parsers(words: list[str]) -> tuple[Parser, dict[str, Parser]]:
    """Give the whole line's parser, and each command's."""
    parser = Parser(
        prog="benchmate",
        description="Says where to stop bending a tube, watches the bend, logs it and learns.",
        epilog="benchmate advises; the person at the pump decides. Keep clear of the tube's sweep.",
    )
    parser.add_argument("--version", action="version", version=f"benchmate {__version__}")
    parser.add_argument("--shop", type=Path, metavar="DIR", help="folder of the shop files")
    parser.add_argument("--store", type=Path, metavar="FILE", help="the calibration store")
    under = parser.add_subparsers(dest="command", metavar="COMMAND")
    commands: dict[str, Parser] = {}
    for name, told in COMMANDS.items():
        commands[name] = under.add_parser(name, help=told, description=f"{name}: {told}.")
        if name in words:
            _module(name).prepare(commands[name])
    return parser, commands


def _module(name: str) -> CommandModule:
    module: CommandModule = importlib.import_module(f"benchmate.commands.{name}")
    return module
