"""The command line: find the command, let it parse its options, run it, say what went wrong.

Nothing heavy is imported here: each command brings what it needs when it runs.
"""

import argparse
import importlib
import io
import logging
import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn, Protocol

from benchmate import __version__
from benchmate.errors import BenchmateError

COMMANDS = {
    "demo": "a whole simulated job on the screen, no hardware",
    "list": "jobs, dies, tubes on the rack; what is made, what is ready to bend",
    "add": "a new job, die or tube: asked for, drawn, written as a file of yours",
    "plan": "marks, turns, stop angles, cut length, warnings",
    "watch": "the live bend",
    "align": "swing the arm once; learn how the sensor sits",
    "learned": "what the bench knows of a die, tube, lot",
    "trial": "measurements of a trial piece in; start offset, radius, stretch out",
    "sheet": "the job on paper: marks to scale, the part, the table in bending order",
    "rehearse": "many simulated bends of a job at full speed, with the figures",
    "die": "what a die is, has proven, may carry; inspect, repair, retire",
    "log": "list, show, replay, amend, export, merge",
    "check": "sensor, bus, pins, store, shop files: what works, what to do",
}


OWN_ONLY = 0o077
"""The umask of all that is written: files are their owner's alone, folders as well."""


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
        from benchmate.wording import printable

        super().error(printable(message + self._meant(message), 1000))

    def _print_message(self, message: str, file: Any = None) -> None:
        # argparse passes over a full disk, and the help that nobody got would end in status 0.
        if message and file is not None:
            file.write(message)

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
    mask = os.umask(OWN_ONLY)
    try:
        _prepare_streams()
        status = _ended(_run, sys.argv[1:] if argv is None else argv)
        # Here and not by the interpreter, which would end in status 120 and in words of its own.
        return _ended(_flush, said=status != 0) or status
    finally:
        os.umask(mask)


def _ended(work: Callable[..., int], *args: object, said: bool = False) -> int:
    """Do it and give the exit status; what goes wrong is told, unless something was ``said``."""
    try:
        return work(*args)
    except SystemExit as leaving:
        # From argparse: help, version, a usage error.
        return int(leaving.code or 0)
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        # Whoever read our output is gone: there is nobody to tell.
        return 1
    except BenchmateError as error:
        _tell(str(error))
        return error.exit_status
    except OSError as error:
        if not said:
            where = f"{error.filename}: " if error.filename else ""
            _tell(f"{where}{error.strerror or error}")
        return 1


def _flush() -> int:
    try:
        sys.stdout.flush()
    except OSError:
        # What still waits goes nowhere, or the interpreter would try it again.
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), sys.stdout.fileno())
        raise
    return 0


def _prepare_streams() -> None:
    """See that all three are there, and that what is no text shows as escapes, not as an end."""
    # What whoever started us has closed; in the order of their numbers, so that each gets its own.
    sys.stdin = sys.stdin or os.fdopen(os.open(os.devnull, os.O_RDONLY), encoding="utf-8")
    sys.stdout = sys.stdout or os.fdopen(os.open(os.devnull, os.O_WRONLY), "w", encoding="utf-8")
    sys.stderr = sys.stderr or os.fdopen(os.open(os.devnull, os.O_WRONLY), "w", encoding="utf-8")
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _run(words: list[str]) -> int:
    parser, commands = _parsers(words)
    args, unknown = parser.parse_known_args(words)
    if unknown:
        # The command's own parser knows which of its options may have been meant.
        told = f"unrecognized arguments: {' '.join(unknown)}"
        if not any(word.startswith("-") for word in unknown):
            told += "; a name with spaces takes quotes round it"
        commands.get(args.command, parser).error(told)
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
