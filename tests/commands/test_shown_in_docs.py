"""What the pages show of a command's output is what it prints, on the starter shop, never bent on.

Run as a program it prints the pages' examples anew.
"""

import contextlib
import io
import re
import shlex
from pathlib import Path

import pytest

from benchmate.cli import main
from benchmate.places import starter_shop

PAGES = [
    Path(__file__).parents[2] / "docs" / "commands" / f"{name}.md"
    for name in ("plan", "rehearse", "trial")
]
SHOWN = re.compile(r"^    \$ benchmate (?P<line>.+)\n(?P<output>(?:(?:    .*)?\n(?!#|\|))*)", re.M)


def printed(line: str, store: Path) -> str:
    """Give what the command prints, indented as on a page."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        main(["--shop", str(starter_shop()), "--store", str(store), *shlex.split(line)])
    lines = said.getvalue().strip("\n").splitlines()
    return "\n".join(f"    {each}".rstrip() for each in lines)


def examples() -> list[tuple[str, str]]:
    found = [match for page in PAGES for match in SHOWN.finditer(page.read_text())]
    return [(match["line"], match["output"].strip("\n")) for match in found]


def test_every_page_shows_something() -> None:
    assert {line.split()[0] for line, _ in examples()} == {page.stem for page in PAGES}


@pytest.mark.parametrize(
    ("line", "output"), [pytest.param(*each, id=each[0]) for each in examples()]
)
def test_a_page_shows_what_the_command_prints(line: str, output: str, tmp_path: Path) -> None:
    assert printed(line, tmp_path / "none.db") == output


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(
            SHOWN.sub(
                lambda match: (
                    f"    $ benchmate {match['line']}\n"
                    f"{printed(match['line'], Path('/nowhere/bends.db'))}"
                    + re.search(r"\n*$", match["output"])[0]
                ),
                page.read_text(),
            )
        )
