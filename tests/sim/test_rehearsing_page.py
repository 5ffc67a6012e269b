"""What docs/rehearsing.md shows is what happens."""

import re
from pathlib import Path

import pytest

from benchmate.sim.faults import FaultInjector

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "rehearsing.md").read_text()


def test_the_example_bends_a_tube(monkeypatch):
    monkeypatch.chdir(ROOT)
    (code,) = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
    made: dict[str, object] = {}
    exec(code, made)  # noqa: S102 - the page's own example
    assert made["identity"] == 0x6C
    assert made["true"] > 20.0
    assert made["read"] == pytest.approx(made["true"], abs=0.5)


def test_every_trouble_is_told():
    troubles = {name for name in vars(FaultInjector) if not name.startswith("_")}
    assert {name for name in troubles if f"`{name}(" in PAGE} == troubles
