import subprocess
import sys

import pytest


@pytest.mark.parametrize(
    "module",
    [
        "text.stream_lines",
        "text.outcome",
        "client",
        "state.bench_state",
        "state.alignment_state",
    ],
)
def test_what_runs_without_a_terminal_needs_neither_textual_nor_rich(module):
    check = (
        f"import sys, benchmate.screen.{module}\n"
        "assert not {'textual', 'rich', 'numpy'} & set(sys.modules), sorted(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", check], check=True)


def test_the_screen_needs_no_numpy():
    check = "import sys, benchmate.screen.app\nassert 'numpy' not in sys.modules"
    subprocess.run([sys.executable, "-c", check], check=True)
