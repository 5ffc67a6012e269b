"""A small good shop to spoil."""

from collections.abc import Callable
from pathlib import Path

import pytest

GOOD = {
    "bench.yaml": """\
bench: shed
sensor: {chip: lsm6dso, bus: 1, address: 0x6a, rate: 208}
arm: {plane: vertical, radius: 80 mm}
signals: {buzzer: 18, lights: [5, 6], foot_switch: 17}
""",
    "dies/round.yaml": """\
die: round
for_od: 25 mm
centreline_radius: 75 mm
max_angle: 120
""",
    "tubes/mild.yaml": """\
tube: mild
od: 25 mm
wall: 2 mm
grade: E235+N
yield_strength: 235 MPa
tensile_strength: 340 MPa
""",
    "jobs/knee.yaml": """\
job: knee
tube: mild
die: round
lot: A
tolerance: 0.5
bends:
  - {straight: 300 mm, angle: 90}
tail: 300 mm
""",
}

WriteShop = Callable[..., Path]


@pytest.fixture
def shop_with(tmp_path: Path) -> WriteShop:
    """Write the good shop with some files put in another's place, or left out (None)."""

    def write(changed: dict[str, str | bytes | None] | None = None) -> Path:
        for file, text in {**GOOD, **(changed or {})}.items():
            if text is None:
                continue
            path = tmp_path / "shop" / file
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return tmp_path / "shop"

    return write


@pytest.fixture
def good() -> dict[str, str]:
    """Give the good shop's files by name."""
    return dict(GOOD)
