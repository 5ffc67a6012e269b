"""``benchmate rehearse``: figures that repeat, and that are worth having."""

import json

import pytest

from benchmate.cli import main
from benchmate.places import starter_shop


@pytest.fixture
def rehearse(capsys):
    def run(*words: str) -> tuple[int, str, str]:
        status = main(["--shop", str(starter_shop()), "rehearse", *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


def test_the_figures_are_told_as_json(rehearse):
    status, out, _ = rehearse("cold-frame-rib", "--bends", "160", "--seed", "4", "--json")
    told = json.loads(out)
    assert status == 0
    assert (told["bends"], told["setups"], told["seed"]) == (160, 10, 4)
    assert told["in_tolerance"] >= 0.95
    assert told["over_bent"] <= 0.04
    assert 0.55 < told["coverage_68"] < 0.85
    first, *_, last = told["by_bend"]
    assert (first["bend"], last["bend"]) == (1, 16)
    assert first["hits"] > last["hits"]


def test_equal_seeds_give_equal_figures_and_others_don_t(rehearse):
    words = ("trellis-knee", "--bends", "20", "--json")
    once, again, other = (rehearse(*words, "--seed", seed)[1] for seed in "112")
    assert once == again
    assert once != other


def test_a_part_of_a_setup_is_bent_as_asked(rehearse):
    told = json.loads(rehearse("trellis-knee", "--bends", "17", "--json")[1])
    assert (told["bends"], told["setups"]) == (17, 2)


def test_a_person_reads_a_table(rehearse):
    _, out, _ = rehearse("trellis-knee", "--bends", "32", "--protractor", "when asked")
    assert "32 simulated bends on 2 setups" in out
    assert [line.split()[0] for line in out.splitlines() if "%" in line][-1] == "all"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("trellis-knee", "--bends", "0"), "--bends takes a number from 1"),
        (("trellis-knee", "--seed", "-1"), "--seed takes a number from 0"),
        (("no-such-job",), "no-such-job"),
    ],
)
def test_what_can_t_be_rehearsed_is_refused_in_words(rehearse, words, told):
    status, _, err = rehearse(*words)
    assert status == 2
    assert told in err
