"""How far a run came follows from what was done in it, steps taken back left out."""

import pytest

from benchmate.reports.run_states import bend_states

HIT = ("zero", "begun", "hit")


@pytest.mark.parametrize(
    ("kinds", "states"),
    [
        ((), ("to do", "to do", "to do")),
        (("zero",), ("to do", "to do", "to do")),
        (("zero", "begun"), ("open", "to do", "to do")),
        (("zero", "begun", "nothing"), ("to do", "to do", "to do")),
        (HIT, ("open", "to do", "to do")),
        ((*HIT, "next"), ("done", "to do", "to do")),
        ((*HIT, "next", "zero"), ("done", "to do", "to do")),
        ((*HIT, "again", "begun", "hit", "next", "zero", "begun"), ("done", "open", "to do")),
        (("skip",), ("skipped", "to do", "to do")),
        (("skip", *HIT, "next", *HIT), ("skipped", "done", "open")),
        ((*HIT, "skip"), ("done", "to do", "to do")),
        ((*HIT, "next") * 3 + ("finished",), ("done", "done", "done")),
        ((*HIT, "next", "skip", *HIT, "next", "finished"), ("done", "skipped", "done")),
        # Taken back, the last step first.
        ((*HIT, "undo"), ("to do", "to do", "to do")),
        ((*HIT, "next", "undo"), ("open", "to do", "to do")),
        ((*HIT, "next", "zero", "undo"), ("done", "to do", "to do")),
        ((*HIT, "next", "zero", "undo", "undo"), ("open", "to do", "to do")),
        ((*HIT, "measured", "turned", "undo", "undo", "undo"), ("to do", "to do", "to do")),
        # A zero taken twice and a rest told twice are one step each.
        (("zero", *HIT, "hit", "undo"), ("to do", "to do", "to do")),
        # The program was stopped in the middle of a hit: something was bent.
        (("zero", "begun", "resumed"), ("open", "to do", "to do")),
        ((*HIT, "resumed", "next"), ("done", "to do", "to do")),
        ((*HIT, "dropped"), ("open", "to do", "to do")),
    ],
)
def test_each_bend_has_its_state(kinds, states):
    assert bend_states(1, 3, kinds) == states


def test_bends_before_the_first_were_not_made_in_this_run():
    assert bend_states(3, 3, (*HIT, "next", "finished")) == ("skipped", "skipped", "done")
