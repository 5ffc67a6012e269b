"""A new tube, die or job: asked for or answered beforehand, and never written over another."""

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from benchmate.cli import main
from benchmate.shop import Shop

STARTER = Path(__file__).parents[2] / "configs"
Add = Callable[..., int]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    for file in STARTER.rglob("*.yaml"):
        copy = tmp_path / file.relative_to(STARTER)
        copy.parent.mkdir(exist_ok=True)
        copy.write_bytes(file.read_bytes())
    return tmp_path


@pytest.fixture
def add(shop: Path, monkeypatch: pytest.MonkeyPatch) -> Add:
    def ask(*words: str, typed: str = "") -> int:
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        return main(["--shop", str(shop), "--store", str(shop / "b.db"), "add", *words])

    return ask


def sets(**values: str) -> list[str]:
    return [word for key, value in values.items() for word in ("--set", f"{key}={value}")]


TUBE = ("tube", "shed-20", *sets(od="20", wall="14 ga", grade="e235+n"))
DIE = ("die", "lane-20", *sets(for_od="20", centreline_radius="60", max_angle="120"))


def test_a_tube_of_a_known_steel_takes_its_least_strengths_and_its_gauge(add: Add, shop: Path):
    assert add(*TUBE) == 0
    tube = Shop.open(shop).tube("shed-20")
    assert (tube.wall_mm, tube.grade) == (pytest.approx(2.1082), "E235+N")
    assert (tube.yield_strength_mpa, tube.tensile_strength_mpa) == (235.0, 340.0)
    assert "0.083 in by the Birmingham gauge" in (shop / "tubes/shed-20.yaml").read_text()


def test_a_job_of_bends_is_written_as_a_person_would(add: Add, shop: Path, capsys):
    add(*TUBE), add(*DIE)
    words = sets(tube="shed-20", die="lane-20", tail="250", count="10")
    assert add("job", "gate", *words, *sets(bend="300, 90"), *sets(bend="220, 45, 30")) == 0
    job = Shop.open(shop).job("gate")
    assert [(b.straight_mm, b.turn_deg, b.angle_deg) for b in job.bends] == [
        (300.0, 0.0, 90.0),
        (220.0, 45.0, 30.0),
    ]
    assert (job.count, job.tail_mm, job.tolerance_deg) == (10, 250.0, 0.5)
    assert "next: benchmate plan gate" in capsys.readouterr().out


def test_no_file_is_written_over(add: Add, shop: Path, capsys):
    add(*TUBE)
    before = (shop / "tubes/shed-20.yaml").read_bytes()
    assert add("tube", "shed-20", *sets(od="22", wall="2", grade="E235+N")) == 2
    assert "there is such a file" in capsys.readouterr().err
    assert (shop / "tubes/shed-20.yaml").read_bytes() == before


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("tube", "x", *sets(odd="3")), "a tube has no such key; did you mean od?"),
        (("tube", "x", *sets(od="20", wall="99 ga", grade="Z")), "there is no wall of 99 ga"),
        (("tube", "x", "--set", "od"), "write KEY=VALUE, as in od=25 mm"),
        (("tube", *sets(od="20")), "name the tube: benchmate add tube NAME"),
        (("tube", "../x", *sets(od="20", wall="2", grade="E235+N")), "can't be a name"),
        (
            ("job", "x", *sets(tube="nope", die="round-25-r75", bend="300, 90", tail="200")),
            "no tube 'nope'",
        ),
        (("job", "x", *sets(bend="300")), "write straight and angle"),
        (
            ("job", "x", *sets(tube="e235-25x2", die="lane-1-3-8", bend="300, 90", tail="200")),
            "take a die and a tube of one outside diameter",
        ),
    ],
)
def test_what_is_wrong_is_told_and_nothing_is_written(
    add: Add, shop: Path, capsys, words: tuple[str, ...], says: str
):
    before = sorted(shop.rglob("*.yaml"))
    assert add(*words) == 2
    assert says in capsys.readouterr().err
    assert sorted(shop.rglob("*.yaml")) == before


def test_asked_for_a_wrong_answer_is_asked_again_and_a_step_goes_back(add: Add, shop: Path, capsys):
    typed = "pipe\n20 mm\nfoo\n16 ga\nE355+N\n<\nE235+N\n\n\n6 m\n"
    assert add("tube", typed=typed) == 0
    said = capsys.readouterr().out
    assert "'foo' is no length" in said
    tube = Shop.open(shop).tube("pipe")
    assert (tube.grade, tube.stock_mm) == ("E235+N", 6000.0)
    assert tube.wall_mm == pytest.approx(1.651)


def test_a_job_asked_for_draws_the_part_as_it_grows(add: Add, shop: Path, capsys):
    typed = "curl\ne235-25x2\nround-25-r75\n\n\n1\n300\n90\n220\n90\n45\n\n200\n4\n"
    assert add("job", typed=typed) == 0
    said = capsys.readouterr().out
    job = Shop.open(shop).job("curl")
    assert [bend.angle_deg for bend in job.bends] == [90.0, 45.0]
    assert (job.bends[1].turn_deg, job.tail_mm, job.count) == (90.0, 200.0, 4)
    drawing = said[said.index("bend 2: straight") :]
    assert any(letter in drawing for letter in "#\u28c0\u2809\u2812\u2824")


def test_an_end_of_the_input_writes_nothing(add: Add, shop: Path, capsys):
    assert add("job", typed="curl\n") == 2
    assert "nothing was written" in capsys.readouterr().err
    assert not (shop / "jobs/curl.yaml").exists()


def test_the_starter_shop_itself_is_not_written_to(capsys, monkeypatch, tmp_path: Path):
    monkeypatch.setenv("HOME", str(tmp_path))
    for name in ("BENCHMATE_SHOP", "XDG_CONFIG_HOME"):
        monkeypatch.delenv(name, raising=False)
    assert main(["add", *TUBE]) == 2
    assert "copy it first" in capsys.readouterr().err


def test_a_shape_and_a_drawing_are_taken_by_naming_them(add: Add, shop: Path):
    words = sets(tube="e235-25x2", die="round-25-r75")
    assert add("job", "box", *words, *sets(shape="{frame: {width: 600, height: 500}}")) == 0
    (shop / "jobs" / "rail.csv").write_text("x,y,z\n0,0,0\n400,0,0\n400,300,0\n")
    assert add("job", "rail", *words, "--points", "rail.csv") == 0
    jobs = Shop.open(shop).jobs
    assert jobs["box"].shape is not None
    assert len(jobs["rail"].points_mm) == 3


def test_the_parts_drawing_is_written_where_it_is_asked_for(add: Add, shop: Path, capsys):
    add(*TUBE), add(*DIE)
    words = (*sets(tube="shed-20", die="lane-20", tail="250"), *sets(bend="300, 90"))
    assert add("job", "gate", *words, "--svg", str(shop / "gate.svg")) == 0
    drawn = (shop / "gate.svg").read_text()
    assert drawn.startswith("<svg")
    assert ">300 mm</text>" in drawn
    assert f"wrote {shop / 'gate.svg'}" in capsys.readouterr().out
    assert add("job", "fence", *words, "--svg", str(shop / "gate.svg")) == 2
    assert "there is such a file" in capsys.readouterr().err
    assert not (shop / "jobs" / "fence.yaml").exists()
    assert add("job", "fence", *words, "--svg", "gate.pdf") == 2
    assert add("tube", "x", *sets(od="20", wall="2", grade="E235+N"), "--svg", "x.svg") == 2
