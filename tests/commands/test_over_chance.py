"""A job's own limit on over-bending reaches every stop angle that is told."""

import io
import json
from pathlib import Path

import pytest

from benchmate import stream
from benchmate.cli import main
from benchmate.runtime.watch_process import WatchRequest, watch_plain
from benchmate.shop import Shop
from benchmate.springback import Springback

FILES = {
    "bench.yaml": """
bench: north-window
sensor: {chip: lsm6dso}
arm: {radius: 80 mm}
""",
    "dies/heron-100.yaml": """
die: heron-100
for_od: 30 mm
centreline_radius: 100 mm
max_angle: 120
""",
    "tubes/rail-30.yaml": """
tube: rail-30
od: 30 mm
wall: 2 mm
grade: E235
yield_strength: 300 MPa
tensile_strength: 400 MPa
""",
}
JOB = """
job: {name}
tube: rail-30
die: heron-100
tolerance: 0.5
{limit}
bends: [{{straight: 300 mm, angle: 90}}]
tail: 150 mm
"""
LIMITS = {
    "strict": "over_chance: 0.2 %",
    "usual": "",
    "as-usual": "over_chance: 2 %",
    "bold": "over_chance: 20",
}


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    jobs = {
        f"jobs/{name}.yaml": JOB.format(name=name, limit=limit) for name, limit in LIMITS.items()
    }
    for name, text in {**FILES, **jobs}.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


def planned(shop: Path, job: str, capsys: pytest.CaptureFixture[str]) -> float:
    assert main(["--shop", str(shop), "--store", str(shop / "b.db"), "plan", job, "--json"]) == 0
    stop: float = json.loads(capsys.readouterr().out)["bends"][0]["stop_angle_deg"]
    return stop


def watched(shop: Path, job: str) -> float:
    """Begin the job on a store of its own, with nobody at the pump; give its first stop angle."""
    opened = Shop.for_job(shop, job)
    out = io.StringIO()
    wish = WatchRequest(
        shop=opened, store=shop / f"{job}.db", job=opened.job(job), simulate=True,
    )  # fmt: skip
    assert watch_plain(wish, io.StringIO(), out) == 0
    events = (stream.read_event(line) for line in out.getvalue().splitlines())
    return next(event.stop_angle for event in events if isinstance(event, stream.Target))


def test_plan_stops_shorter_the_less_over_bending_the_job_allows(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    strict, usual, as_usual, bold = (planned(shop, job, capsys) for job in LIMITS)
    assert strict < usual - 0.1
    assert usual < bold - 0.1
    assert usual == as_usual


def test_watch_goes_by_the_same_limit_as_the_plan(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for job in ("strict", "usual", "bold"):
        assert watched(shop, job) == pytest.approx(planned(shop, job, capsys), abs=0.01)


def test_rehearse_goes_by_the_job_s_limit(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    hits = []
    for job in ("strict", "bold"):
        assert main(["--shop", str(shop), "rehearse", job, "--bends", "96", "--json"]) == 0
        hits.append(json.loads(capsys.readouterr().out)["hits"])
    assert hits[0] > hits[1]


def test_the_model_keeps_its_limit_while_it_learns_and_aim_may_be_told_another(shop: Path) -> None:
    opened = Shop.open(shop)
    setup = (opened.bench, opened.die("heron-100"), opened.tube("rail-30"))
    strict = Springback(*setup, over_limit=0.002).learn([])
    assert strict.aim(90, 0.5) == Springback(*setup).aim(90, 0.5, over_limit=0.002)
    assert strict.aim(90, 0.5).stop_angle < strict.aim(90, 0.5, over_limit=0.02).stop_angle
