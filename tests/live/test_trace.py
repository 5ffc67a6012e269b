"""A trace keeps the readings exactly, small, and refuses what is damaged."""

import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.bench.inputs import on_grid
from benchmate.bench.motion.cue import Guide, Wanted
from benchmate.bench.motion.trace import Segment, pack, unpack
from benchmate.bench.motion.tracker import Bite, SameHit, Track
from benchmate.errors import Refusal
from benchmate.sensing.sample import ArmEstimate

readings = st.lists(
    st.builds(
        ArmEstimate,
        st.floats(0.0, 1e7),
        st.floats(-720.0, 720.0),
        st.floats(-500.0, 500.0),
        st.floats(0.0, 50.0),
        st.floats(0.0, 50.0),
    ).map(on_grid),
    max_size=50,
)


def segment(given_readings: list[ArmEstimate]) -> Segment:
    made = Segment(Track(follows_tube=True), Guide(), Wanted(93.7, 94.5))
    for reading in given_readings:
        made.add(reading)
    return made


@given(readings, readings)
def test_what_is_packed_comes_back_exactly(
    first: list[ArmEstimate], second: list[ArmEstimate]
) -> None:
    one, two = segment(first), segment(second)
    one.marks.append((len(one), SameHit(12.5, first=False)))
    two.marks.append((0, Bite()))
    back = unpack(pack([one, two]))
    assert [each.readings() for each in back] == [first, second]
    assert [each.marks for each in back] == [one.marks, two.marks]
    assert back[0].track == one.track


def test_a_minute_of_bending_takes_few_kilobytes() -> None:
    arm = [
        ArmEstimate(100 + k / 208, 0.01 * k + 0.05 * ((k * 37) % 7 - 3), 2.0, 0.05)
        for k in range(12480)
    ]
    packed = pack([segment([on_grid(reading) for reading in arm])])
    assert len(packed) < 100_000


@pytest.mark.parametrize(
    "blob",
    [
        b"",
        b"zzzz",
        b"BMT1",
        b"BMT1" + zlib.compress(b"\x05\x00\x00\x00{}{}{"),
        pack([segment([ArmEstimate(1.0, 2.0, 3.0, 0.1)])])[:-6],
    ],
)
def test_a_damaged_trace_is_refused_in_words(blob: bytes) -> None:
    with pytest.raises(Refusal, match="trace"):
        unpack(blob)


def test_a_trace_that_unpacks_without_end_is_refused() -> None:
    bomb = b"BMT1" + zlib.compress(bytes(100 * 1024 * 1024), 9)
    with pytest.raises(Refusal, match="larger than any bend"):
        unpack(bomb)
