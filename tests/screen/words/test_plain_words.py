"""Every sentence that the screens can say, in one list, and the words that none of them may use.

Print the list, to read it in one go:  python tests/screen/words/test_plain_words.py
"""

import ast
from pathlib import Path

import pytest

import benchmate.screen

SCREEN = Path(benchmate.screen.__file__).parent
NOT_SAID = (
    "planned anew",
    "askew",
    "rests on",
    "rest on",
    "to be accepted",
    "under-bent",
    "leverage",
    "allan",
    "digest",
    "holds its word",
    "residual",
    "posterior",
    "exit status",
)
"""What a fabricator wouldn't say."""


def sentences() -> list[tuple[str, str]]:
    """Give each text of two words or more that is no docstring, with the file that it stands in."""
    found = []
    for module in sorted(SCREEN.rglob("*.py")):
        tree = ast.parse(module.read_text(encoding="utf-8"))
        bare = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        for node in ast.walk(tree):
            if not isinstance(node, ast.Constant) or id(node) in bare:
                continue
            if isinstance(node.value, str) and len(node.value.split()) > 1:
                found.append((str(module.relative_to(SCREEN)), " ".join(node.value.split())))
    return [each for each in found if "{" not in each[1]]


@pytest.mark.parametrize("words", NOT_SAID)
def test_no_sentence_uses_words_that_a_fabricator_would_not(words):
    assert [each for each in sentences() if words in each[1].lower()] == []


def test_the_list_holds_what_the_screens_say():
    said = [sentence for _, sentence in sentences()]
    assert "Let the pressure off slowly." in said
    assert len(said) > 150


if __name__ == "__main__":
    for place, sentence in sentences():
        print(f"{place}: {sentence}")  # noqa: T201 - the list is what is asked for
