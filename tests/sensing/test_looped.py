"""Samples without end, from bytes to cue: bends come out right and nothing grows."""

import gc
import sys

import pytest

CHIPS = ["lsm6dso", "adxl355", "adxl345", "as5600"]


@pytest.mark.parametrize("chip", CHIPS)
def test_bend_after_bend_is_seen_whole_with_its_cues(arms, looped, chip):
    loop = looped.Looped(arms, chip)
    bends = 3
    for _ in range(bends * loop.bend_samples):
        loop.step()
    assert sum(loop.peaks_deg.values()) == bends
    assert all(abs(peak - loop.peak_deg) < 0.15 for peak in loop.peaks_deg)
    assert {"pump", "slow", "stop", "release"} <= set(loop.cues)


def test_memory_is_flat_from_bend_to_bend(arms, looped):
    loop = looped.Looped(arms, "lsm6dso")

    def held():
        for _ in range(loop.bend_samples):
            loop.step()
        gc.collect()
        return sys.getallocatedblocks()

    held()
    first = held()
    for _ in range(2):
        last = held()
    # A quarter second of samples in hand makes some hundreds; one block kept a sample, thousands.
    assert last - first < 1000 < loop.bend_samples
