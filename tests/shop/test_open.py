"""Opening a shop: what is good becomes frozen values, what is wrong is told all at once."""

from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from benchmate.errors import Refusal
from benchmate.shop import Shop
from benchmate.shop.parts import Arm, Bench, Die, Job, JobBend, Sensor, Signals, Tube

WriteShop = Callable[..., Path]


def told(path: Path) -> list[str]:
    with pytest.raises(Refusal) as refused:
        Shop.open(path)
    return [line.removeprefix(f"{path}/") for line in str(refused.value).splitlines()]


def test_a_good_shop_becomes_frozen_values(shop_with: WriteShop) -> None:
    shop = Shop.open(shop_with())
    assert shop.bench == Bench(
        bench="shed",
        sensor=Sensor(chip="lsm6dso", bus=1, address=0x6A, rate_hz=208.0),
        arm=Arm(plane="vertical", radius_mm=80.0),
        signals=Signals(buzzer=18, lights=(5, 6), foot_switch=17),
    )
    assert shop.dies == {
        "round": Die(die="round", for_od_mm=25.0, centreline_radius_mm=75.0, max_angle_deg=120.0)
    }
    assert shop.tubes["mild"] == Tube(
        tube="mild",
        od_mm=25.0,
        wall_mm=2.0,
        grade="E235+N",
        yield_strength_mpa=235.0,
        tensile_strength_mpa=340.0,
    )
    assert shop.job("knee") == Job(
        job="knee",
        tube="mild",
        die="round",
        lot="A",
        tolerance_deg=0.5,
        bends=(JobBend(straight_mm=300.0, angle_deg=90.0),),
        tail_mm=300.0,
    )


def test_nothing_in_an_open_shop_can_be_changed(shop_with: WriteShop) -> None:
    shop = Shop.open(str(shop_with()))
    for parts in (shop.dies, shop.tubes, shop.jobs):
        with pytest.raises(TypeError):
            parts["x"] = next(iter(parts.values()))  # type: ignore[index]
    with pytest.raises(AttributeError):
        shop.path = Path()  # type: ignore[misc]
    with pytest.raises(AttributeError):
        shop.bench.bench = "other"  # type: ignore[misc]


def test_what_was_read_turns_into_plain_data_and_back(shop_with: WriteShop) -> None:
    shop = Shop.open(shop_with())
    for part in (shop.bench, shop.die("round"), shop.tube("mild"), shop.job("knee")):
        assert msgspec.convert(msgspec.to_builtins(part), type(part)) == part


def test_a_job_may_be_written_as_points_in_any_unit(shop_with: WriteShop) -> None:
    job = """\
job: knee
tube: mild
die: round
tolerance: 0.5 deg
points: [[0, 0, 0], [400 mm, 0, 0], [400, 1 ft, 2 in]]
unit: in
"""
    read = Shop.open(shop_with({"jobs/knee.yaml": job})).job("knee")
    assert read.points_mm == ((0.0, 0.0, 0.0), (400.0, 0.0, 0.0), (400.0, 304.8, 50.8))
    assert (read.lot, read.tail_mm, read.unit) == ("", None, "in")


def test_all_that_is_wrong_in_all_files_is_told_at_once(
    shop_with: WriteShop, good: dict[str, str]
) -> None:
    path = shop_with(
        {
            "bench.yaml": good["bench.yaml"].replace("lsm6dso", "lsm6ds"),
            "dies/round.yaml": good["dies/round.yaml"]
            .replace("75 mm", "75 miles")
            .replace("120", "-5"),
            "jobs/knee.yaml": good["jobs/knee.yaml"].replace("angle", "angel"),
        }
    )
    assert told(path) == [
        "bench.yaml:2: sensor chip: 'lsm6ds' is none of them; write one of lsm6dso, lsm6dsox, "
        "adxl345, adxl355, as5600 (nearest: lsm6dso)",
        "dies/round.yaml:3: centreline_radius: '75 miles' is no length; write it as 25 mm, "
        "7/8 in or 1-5/8 in",
        "dies/round.yaml:4: max_angle: -5 is out of the span; write more than 0 and up to 360 deg",
        "jobs/knee.yaml:7: bends 1 angel: no such key; did you mean angle?",
        "jobs/knee.yaml:7: bends 1 angle: missing; it has to be written",
    ]


def test_a_shop_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match=r"nowhere: no such folder; give one that holds bench\.yaml"):
        Shop.open(tmp_path / "nowhere")


def test_a_missing_bench_file_is_named(shop_with: WriteShop) -> None:
    assert told(shop_with({"bench.yaml": None})) == ["bench.yaml: there is no such file"]


def test_a_folder_without_jobs_dies_and_tubes_is_an_empty_shop(shop_with: WriteShop) -> None:
    path = shop_with({"dies/round.yaml": None, "tubes/mild.yaml": None, "jobs/knee.yaml": None})
    shop = Shop.open(path)
    assert (shop.dies, shop.tubes, shop.jobs) == ({}, {}, {})
    with pytest.raises(Refusal, match=r"no die 'round' in .*/dies; write dies/NAME\.yaml there"):
        shop.die("round")


def test_other_files_and_hidden_ones_are_passed_over(shop_with: WriteShop) -> None:
    stray: dict[str, str | bytes | None] = {
        "dies/README.md": "x",
        "dies/.round.yaml": "x",
        "dies/round.yaml~": "x",
    }
    assert list(Shop.open(shop_with(stray)).dies) == ["round"]


@pytest.mark.parametrize("ending", ["yml", "YAML", "YML"])
def test_a_file_that_is_nearly_named_as_a_shop_file_is_told(
    shop_with: WriteShop, good: dict[str, str], ending: str
) -> None:
    path = shop_with({f"dies/flat.{ending}": good["dies/round.yaml"]})
    assert told(path) == [f"dies/flat.{ending}: a shop file's name ends in .yaml; rename it"]
    assert Shop.for_job(path, "knee").job("knee")


def test_a_name_that_is_not_there_brings_the_nearest(shop_with: WriteShop) -> None:
    shop = Shop.open(shop_with())
    with pytest.raises(Refusal, match=r"no job 'kneee' in .*/jobs; did you mean knee\?"):
        shop.job("kneee")
    with pytest.raises(Refusal, match=r"no tube 'xyz' in .*/tubes; there are mild"):
        shop.tube("xyz")


@pytest.mark.parametrize("name", ["../jobs/knee", "knee.yaml", "", "\x1b[2J", "a/b", "\x00"])
def test_a_name_asked_for_reaches_no_other_file_and_no_terminal(
    shop_with: WriteShop, name: str
) -> None:
    path = shop_with()
    for ask in (Shop.open(path).job, lambda name: Shop.for_job(path, name)):
        with pytest.raises(Refusal, match="no job") as refused:
            ask(name)
        assert str(refused.value).isprintable()


def test_one_job_opens_though_other_files_are_wrong(
    shop_with: WriteShop, good: dict[str, str]
) -> None:
    path = shop_with(
        {
            "jobs/other.yaml": "job: [",
            "dies/other.yaml": "die: other",
            "tubes/other.yaml": b"\xff",
        }
    )
    shop = Shop.for_job(path, "knee")
    assert shop.job("knee").die == "round"
    assert len(told(path)) == 5
    assert set(shop.dies) == {"round"}


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("bench.yaml", "80 mm", "-80 mm"),
        ("dies/round.yaml", "75 mm", "0"),
        ("tubes/mild.yaml", "wall: 2 mm", "wall: -2 mm"),
        ("jobs/knee.yaml", "tolerance: 0.5", "tolerance: 0"),
    ],
)
def test_one_job_is_refused_when_a_file_that_it_needs_is_wrong(
    shop_with: WriteShop, good: dict[str, str], file: str, old: str, new: str
) -> None:
    path = shop_with({file: good[file].replace(old, new)})
    with pytest.raises(Refusal, match=rf"{file}:\d+: .* is out of the span"):
        Shop.for_job(path, "knee")


def test_reading_gives_what_is_good_and_refuses_the_rest_when_it_is_asked_for(
    shop_with: WriteShop, good: dict[str, str]
) -> None:
    path = shop_with(
        {
            "bench.yaml": good["bench.yaml"] + "colour: red\n",
            "tubes/mild.yaml": good["tubes/mild.yaml"].replace("25 mm", "25 cm."),
        }
    )
    shop, problems = Shop.read(path)
    assert [(p.line, p.field) for p in problems] == [(5, "colour"), (2, "od")]
    assert set(shop.dies) == {"round"}
    with pytest.raises(Refusal, match=r"bench\.yaml:5: colour: no such key"):
        assert shop.bench
    with pytest.raises(Refusal, match=r"mild\.yaml:2: od: '25 cm\.' is no length"):
        shop.tube("mild")


def test_one_bend_needs_the_bench_its_die_and_its_tube_alone(shop_with: WriteShop) -> None:
    shop = Shop.for_bend(
        shop_with({"jobs/knee.yaml": "job: ["}), die="round", tube="mild", angle_deg=90
    )
    assert shop.die("round").max_angle_deg == 120.0


@pytest.mark.parametrize(
    ("bench", "die", "angle_deg", "said"),
    [
        ("bench: shed\n", "round", 90, r"bench\.yaml:1: sensor: missing"),
        (None, "square", 90, "no die 'square' in "),
        (None, "small", 90, "small takes 20 mm tube and mild has 25 mm; take a die and a tube"),
        (None, "round", 121, "121 deg is above the 120 deg that die round bends to; take a"),
        (None, "round", 0.0, "a bend angle of 0 deg; it must be above 0"),
        (None, "round", float("nan"), "a bend angle of nan deg; it must be above 0"),
    ],
)
def test_one_bend_that_cannot_be_made_is_refused(
    shop_with: WriteShop, bench: str | None, die: str, angle_deg: float, said: str
) -> None:
    small = "die: small\nfor_od: 20 mm\ncentreline_radius: 60 mm\nmax_angle: 120\n"
    files = {"dies/small.yaml": small} | ({"bench.yaml": bench} if bench else {})
    with pytest.raises(Refusal, match=said):
        Shop.for_bend(shop_with(files), die=die, tube="mild", angle_deg=angle_deg)


def test_the_starter_shop_is_good_and_complete() -> None:
    shop = Shop.open(Path(__file__).parents[2] / "configs")
    assert len(shop.dies) >= 3
    assert len(shop.tubes) >= 5
    assert len({tube.grade for tube in shop.tubes.values()}) >= 5
    angles = [[bend.angle_deg for bend in job.bends] for job in shop.jobs.values()]
    assert [180.0] in angles
    assert any(job.points_mm for job in shop.jobs.values())
    assert any(bend.turn_deg for job in shop.jobs.values() for bend in job.bends)
    for job in shop.jobs.values():
        grip = 2 * shop.tube(job.tube).od_mm
        assert all(bend.straight_mm >= grip for bend in job.bends)
        assert all(bend.straight_mm >= 150 for bend in job.bends[:1])
