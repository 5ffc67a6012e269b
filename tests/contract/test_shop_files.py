"""What a person may write in a shop file, key by key."""

from pathlib import Path
from typing import Any

import pytest

from benchmate.cli import main

BENCH = """\
bench: north-window
sensor: {chip: lsm6dso, bus: 1, address: 0x6a, rate: 208}
arm: {plane: vertical, radius: 80 mm, follows_tube: true, bites: false, handed: right}
signals: {buzzer: 18, lights: [5, 6, 13, 19, 26], foot_switch: 17}
"""
DIE = """\
die: hub
for_od: 25 mm
centreline_radius: 75 mm
max_angle: 180
start_offset: 3 mm
slack: 1.2
"""
TUBE = """\
tube: round
od: 25 mm
wall: 2 mm
grade: E235+N
yield_strength: 235 MPa
tensile_strength: 340 MPa
modulus: 206 GPa
n: 0.15
K: 600 MPa
"""
JOB = """\
job: knee
tube: round
die: hub
lot: A
tolerance: 0.5
bends: [{straight: 300 mm, angle: 90}, {straight: 220 mm, turn: 90, angle: 45}]
tail: 300 mm
"""
PAGES = {"bench": BENCH, "die": DIE, "tube": TUBE, "job": JOB}


class Written:
    """A shop of four pages, and what the program says of it."""

    def __init__(self, folder: Path, capsys: Any) -> None:
        self.folder, self._capsys = folder, capsys
        self.pages = dict(PAGES)

    def edit(self, page: str, old: str, new: str) -> None:
        assert old in self.pages[page]
        self.pages[page] = self.pages[page].replace(old, new)

    def plan(self) -> tuple[int, str]:
        for page, file in (
            ("bench", "bench.yaml"),
            ("die", "dies/hub.yaml"),
            ("tube", "tubes/round.yaml"),
            ("job", "jobs/knee.yaml"),
        ):
            path = self.folder / file
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(self.pages[page], encoding="utf-8")
        store = self.folder / "bends.db"
        status = main(["--shop", str(self.folder), "--store", str(store), "plan", "knee"])
        return status, self._capsys.readouterr().err


@pytest.fixture
def written(tmp_path: Path, capsys: Any) -> Written:
    return Written(tmp_path, capsys)


def test_every_key_is_known(written: Written) -> None:
    assert written.plan() == (0, "")


@pytest.mark.parametrize(
    ("page", "old", "new"),
    [
        ("bench", "signals: {buzzer: 18, lights: [5, 6, 13, 19, 26], foot_switch: 17}\n", ""),
        ("bench", "buzzer: 18, ", ""),
        ("bench", "lights: [5, 6, 13, 19, 26], ", ""),
        ("bench", ", foot_switch: 17", ""),
        ("bench", "plane: vertical, ", ""),
        ("bench", "follows_tube: true, ", ""),
        ("bench", "bites: false, ", ""),
        ("bench", ", handed: right", ""),
        ("bench", "chip: lsm6dso, bus: 1, address: 0x6a, rate: 208", "chip: adxl355, bus: 1"),
        ("bench", "lsm6dso, bus: 1, address: 0x6a", "lsm6dsox, bus: 1, address: 0x6b"),
        ("bench", "lsm6dso, bus: 1, address: 0x6a, rate: 208", "as5600, bus: 1, rate: 200"),
        ("bench", "plane: vertical", "plane: tilted"),
        ("bench", "handed: right", "handed: left"),
        ("die", "start_offset: 3 mm\n", ""),
        ("die", "slack: 1.2\n", ""),
        ("tube", "modulus: 206 GPa\n", ""),
        ("tube", "n: 0.15\nK: 600 MPa\n", ""),
        ("tube", "od: 25 mm", "od: 1 in"),
        ("job", "turn: 90, ", ""),
        ("job", "lot: A", "lot: 7"),
        ("job", "300 mm, angle", "11-13/16 in, angle"),
        (
            "job",
            "bends: [{straight: 300 mm, angle: 90}, {straight: 220 mm, turn: 90, angle: 45}]\n"
            "tail: 300 mm\n",
            "points: [[0, 0, 0], [400, 0, 0], [400, 350, 0]]\n",
        ),
    ],
)
def test_may_be_left_out_or_written_so(written: Written, page: str, old: str, new: str) -> None:
    if new == "od: 1 in":
        written.edit("die", "25 mm", "1 in")
    written.edit(page, old, new)
    assert written.plan() == (0, "")


@pytest.mark.parametrize(
    ("page", "old", "new", "words"),
    [
        ("bench", "bench: north", "bnech: north", ("bench.yaml:1", "bnech", "bench")),
        ("bench", "rate: 208", "raet: 208", ("bench.yaml:2", "raet", "rate")),
        ("bench", "radius: 80 mm, ", "", ("bench.yaml:3", "radius")),
        ("bench", "lsm6dso,", "lsm7dso,", ("bench.yaml:2", "chip", "lsm6dso")),
        ("bench", "buzzer: 18", "buzer: 18", ("bench.yaml:4", "buzer", "buzzer")),
        ("die", "max_angle", "maxangle", ("hub.yaml:4", "maxangle", "max_angle")),
        ("die", "for_od: 25 mm\n", "", ("hub.yaml", "for_od")),
        ("tube", "wall: 2 mm", "wall: -2 mm", ("round.yaml:3", "wall")),
        ("tube", "wall: 2 mm", "wall: 13 mm", ("round.yaml:3", "wall")),
        ("tube", "yield_strength: 235 MPa\n", "", ("round.yaml", "yield_strength")),
        ("tube", "grade: E235+N\n", "", ("round.yaml", "grade")),
        ("job", "tolerance: 0.5\n", "", ("knee.yaml", "tolerance")),
        ("job", "tolerance: 0.5", "tolerance: .nan", ("knee.yaml:5", "tolerance")),
        ("job", "angle: 90", "angel: 90", ("knee.yaml:6", "angel", "angle")),
        ("job", "angle: 90", "angle: 190", ("knee.yaml:6", "angle")),
        ("job", "tail: 300 mm\n", "", ("knee.yaml", "tail")),
        ("job", "die: hub", "die: hum", ("knee.yaml:3", "hum", "hub")),
        ("job", "job: knee", "job: elbow", ("knee.yaml:1", "elbow", "knee")),
    ],
)
def test_is_refused_with_file_line_field_and_what_would_be_right(
    written: Written, page: str, old: str, new: str, words: tuple[str, ...]
) -> None:
    written.edit(page, old, new)
    status, error = written.plan()
    assert status == 2
    for word in words:
        assert word in error
