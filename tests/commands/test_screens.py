"""How the screens start their bench process."""

import argparse
import subprocess
from pathlib import Path

import pytest

from benchmate.runtime import screen_process
from benchmate.screen.pages import align_page as align

STARTER = Path(__file__).parents[2] / "configs"


@pytest.fixture
def started(monkeypatch, tmp_path) -> list[str]:
    """Give the command line with which ``align`` starts its bench process."""
    kept = []

    class Shown:
        def __init__(self, start, **_):
            kept.extend(start())

        def run(self):
            return 0

    monkeypatch.setattr(align, "AlignApp", Shown)
    args = argparse.Namespace(
        shop=STARTER,
        store=tmp_path / "bends.db",
        simulate=True,
        turn=False,
        against=None,
        chip=None,
        seed=3,
    )
    assert screen_process.align_on_screen(args) == 0
    return kept


def test_the_bench_process_is_the_same_command_said_plain(started):
    assert started[-5:] == ["align", "--simulate", "--seed", "3", "--plain"]
    assert started[started.index("--shop") + 1] == str(STARTER)


def test_the_bench_process_starts_in_a_folder_that_holds_a_checkout(started, tmp_path):
    (tmp_path / "benchmate").mkdir()
    words = [*started[: started.index("--shop")], "--version"]
    ran = subprocess.run(
        words, cwd=tmp_path, capture_output=True, text=True, check=False, timeout=30
    )
    assert ran.stdout.startswith("benchmate "), ran.stderr
