"""``benchmate learned``: tables, plot, pictures, JSON, refusals, on a store of a dozen bends."""

import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from benchmate.cli import main
from benchmate.places import starter_shop
from benchmate.shop import Shop
from benchmate.store import BendRecord, HitRecord, Store

SHOP = Shop.open(starter_shop())
DIE, TUBE = SHOP.die("round-25-r75"), SHOP.tube("e235-25x2")
SETUP = {
    "bench": msgspec.to_builtins(SHOP.bench),
    "die": msgspec.to_builtins(DIE),
    "tube": msgspec.to_builtins(TUBE),
}


def record(number: int, angle: float, off: float = 0.0, lot: str = "A") -> BendRecord:
    stray = np.random.default_rng(number).normal(0, 0.1, 3)
    peak = 1.02 * angle + 2.1 + off + stray[0]
    hit = HitRecord(
        stop_angle=peak - 0.1,
        stop_sd=0.4,
        peak=peak,
        rest=angle + 1.6 + stray[1],
        measured=angle + stray[2],
        how_measured="protractor",
    )
    return BendRecord(
        bend_id=f"bend-{number}",
        job="trellis-knee",
        bend=number,
        die=DIE.die,
        tube=TUBE.tube,
        lot=lot,
        bend_angle=angle,
        tolerance=0.5,
        hits=(hit,),
        verdict="accept",
        setup=SETUP,
    )


@pytest.fixture
def path(tmp_path) -> Path:
    path = tmp_path / "bends.db"
    with Store.open(path) as store:
        for number in range(1, 13):
            store.append(record(number, 12.0 * number))
        store.append(record(13, 90.0, off=4.0)).result()
    return path


@pytest.fixture
def learned(path, capsys):
    """Run ``benchmate learned ...`` on the store; give status, output and errors."""

    def run(*words: str, store: Path = path) -> tuple[int, str, str]:
        status = main(["--shop", str(starter_shop()), "--store", str(store), "learned", *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


def test_one_setup_is_told_in_trade_words(learned):
    status, out, err = learned()
    assert (status, err) == (0, "")
    assert "die round-25-r75, tube e235-25x2, lot A: 13 bends" in out
    slack = next(line for line in out.splitlines() if line.strip().startswith("slack "))
    assert 1.3 < float(slack.split()[1]) < 1.9
    assert "from 12 bends on this die" in slack


def test_a_doubted_bend_is_named_with_its_number_in_the_log_and_why(learned):
    _, out, _ = learned()
    (line,) = [line for line in out.splitlines() if line.startswith("  bend ")]
    assert line.startswith("  bend 13 of the log, 90.0 deg: ")
    assert "standard deviations: clamp slipped" in line


def test_several_setups_are_a_line_each(learned, path):
    with Store.open(path) as store:
        store.append(record(20, 45.0, lot="B")).result()
    _, out, _ = learned()
    head, first, second, *_ = out.splitlines()
    assert head.split()[:4] == ["die", "tube", "lot", "bends"]
    assert first.split()[2:4] == ["A", "13"]
    assert second.split()[2:4] == ["B", "1"]
    _, one, _ = learned("--lot", "B")
    assert "lot B: 1 bend\n" in one


def test_a_withdrawn_bend_is_unlearned(learned, path, capsys):
    assert main(["--store", str(path), "log", "withdraw", "13"]) == 0
    capsys.readouterr()
    _, out, _ = learned()
    assert "clamp slipped" not in out
    assert "12 bends" in out


def test_json_has_one_object_a_setup(learned):
    _, out, _ = learned("--json")
    (told,) = map(json.loads, out.splitlines())
    assert (told["die"], told["tube"], told["lot"], told["bends"]) == (
        "round-25-r75",
        "e235-25x2",
        "A",
        13,
    )
    assert told["slack_deg"]["sd"] < 0.2
    assert told["outliers"][0]["name"] == "13"
    assert told["outliers"][0]["number"] == 13


def test_a_doubted_bend_is_named_as_the_log_names_it_after_a_correction(learned, path):
    with Store.open(path) as store:
        store.append(record(1, 12.0)).result()
        store.append(record(14, 60.0, off=5.0)).result()
    _, out, _ = learned()
    assert "  bend 14 of the log, 60.0 deg: " in out


def test_lengths_come_in_the_unit_asked_for(learned):
    assert "mm" not in learned("--unit", "frac")[1]
    assert " in ± " in learned("--unit", "frac")[1]
    assert " mm ± 0." in learned()[1]


def test_after_rehearsals_only_it_says_how_to_see_what_they_taught(learned, tmp_path):
    path = tmp_path / "rehearsed.db"
    with Store.open(path) as store:
        store.append(replace(record(1, 45.0), simulated=True)).result()
    status, out, _ = learned(store=path)
    assert status == 0
    assert "there is 1 rehearsed: --rehearsed shows what they taught" in out
    _, _, err = learned("--die", DIE.die, store=path)
    assert "--rehearsed" in err


def test_the_plot_shows_bends_line_and_doubt(learned, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("LINES", "24")
    status, out, _ = learned("--plot")
    lines = out.splitlines()
    assert status == 0
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 24
    drawn = "".join(line.partition("|")[2] for line in lines)
    assert drawn.count("x") == 1
    assert drawn.count("o") >= 10
    assert {"-", ":", "."} <= set(drawn)


def test_an_svg_is_drawn(learned, tmp_path):
    file = tmp_path / "springback.svg"
    status, out, _ = learned("-o", str(file))
    assert (status, out) == (0, f"wrote {file}\n")
    root = ET.fromstring(file.read_text())  # noqa: S314 - our own file
    words = [each.text or "" for each in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "round-25-r75, e235-25x2, lot A, on east-window" in words
    lines = list(root.iter("{http://www.w3.org/2000/svg}polyline"))
    assert len(lines) >= 13 + 5


def test_a_png_is_drawn(learned, tmp_path):
    from PIL import Image

    file = tmp_path / "springback.png"
    assert learned("-o", str(file))[0] == 0
    with Image.open(file) as image:
        assert image.size == (1440, 960)
        assert image.convert("L").getextrema() == (0, 255)


def test_a_picture_of_another_kind_is_refused(learned, tmp_path):
    status, _, err = learned("-o", str(tmp_path / "springback.gif"))
    assert status == 2
    assert "ends in .svg or .png" in err


def test_a_setup_never_bent_is_what_mechanics_says(learned, tmp_path):
    status, out, _ = learned(
        "--die", "round-25-r75", "--tube", "e235-25x2", store=tmp_path / "none.db"
    )
    assert status == 0
    assert "never bent" in out
    assert "from 0 bends on this die" in out


def test_an_empty_log_is_said_to_be_one(learned, tmp_path):
    status, out, _ = learned(store=tmp_path / "none.db")
    assert status == 0
    assert "no real bend is logged" in out


@pytest.mark.parametrize(
    "words", [("--die", "nowhere"), ("--die", "nowhere", "--tube", "e235-25x2")]
)
def test_an_unknown_name_is_refused_in_words(learned, words):
    status, _, err = learned(*words)
    assert status == 2
    assert err.startswith("benchmate: ")


def test_a_plot_of_several_setups_asks_which(learned, path):
    with Store.open(path) as store:
        store.append(record(20, 45.0, lot="\x1b[31m")).result()
    status, _, err = learned("--plot")
    assert status == 2
    assert "--die round-25-r75" in err
    assert "\x1b" not in err
