"""What the tracker saw during a bend, packed small, so that a replay gives the same happenings.

A trace is a row of segments. Each starts from a whole state of tracker and guide, then holds the
readings on their grid and the marks between them. Idle time is not kept: waiting starts the segment
anew every few seconds.
"""

import json
import struct
import zlib
from array import array
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import msgspec

from benchmate.bench.motion import tracker
from benchmate.bench.motion.cue import Guide, Wanted
from benchmate.bench.motion.tracker import Mark, Track
from benchmate.errors import Refusal
from benchmate.sensing.sample import ArmEstimate

IDLE_READINGS = 2500
"""A segment of mere waiting starts anew when it is this long (some ten seconds)."""
LARGEST_SEGMENT = 500_000
LARGEST_UNPACKED = 64 * 1024 * 1024
"""A packed trace that grows past this when unpacked is refused: it may be somebody's trap."""
_MAGIC = b"BMT1"
_GRID = (6, 4, 3, 4, 4)
"""Decimals kept of time [s], arm [deg], rate [deg/s], deviation [deg] and noise [deg]."""
_MARKS: dict[str, Callable[..., Mark]] = {
    kind.__name__: kind
    for kind in (
        tracker.TakeZero,
        tracker.NewBend,
        tracker.NewHit,
        tracker.SameHit,
        tracker.Stood,
        tracker.Bite,
        tracker.Released,
        tracker.LostArm,
        tracker.FoundArm,
    )
}


@dataclass(slots=True)
class Segment:
    """Readings and marks from one known state on."""

    track: Track
    guide: Guide
    wanted: Wanted
    columns: "tuple[array[int], ...]" = field(
        default_factory=lambda: tuple(array("q") for _ in _GRID)
    )
    """What a reading holds, each in its place on the grid."""
    marks: list[tuple[int, Mark]] = field(default_factory=list)
    """Each with how many readings came before it."""
    waiting: bool = True
    """Nothing but waiting in it so far."""

    def __len__(self) -> int:
        """Give the number of readings."""
        return len(self.columns[0])

    def add(self, reading: ArmEstimate) -> None:
        """Keep one reading that is on the grid."""
        if len(self) >= LARGEST_SEGMENT:
            return
        for column, value, steps in zip(self.columns, reading, _GRID, strict=True):
            column.append(round(value * 10**steps))

    def readings(self) -> list[ArmEstimate]:
        """Give the readings back as they were."""
        return [
            ArmEstimate(*(round(k / 10**steps, steps) for k, steps in zip(row, _GRID, strict=True)))
            for row in zip(*self.columns, strict=True)
        ]


class Recorder:
    """Keeps the bend's segments while it goes on."""

    def __init__(self) -> None:
        self._segments: list[Segment] = []

    def begin(self, track: Track, guide: Guide, wanted: Wanted, *, anew: bool) -> None:
        """Start a segment from this state; ``anew`` forgets all before."""
        if anew:
            self._segments.clear()
        self._segments.append(Segment(track, guide, wanted))

    def add(self, reading: ArmEstimate, track: Track, guide: Guide, wanted: Wanted) -> None:
        """Keep a reading that is about to be followed from this state."""
        segment = self._segments[-1]
        idle = not track.in_hit and not (track.phase == "zeroing" and track.zero_asked)
        if idle and not segment.waiting:
            self.begin(track, guide, wanted, anew=False)
        elif idle and len(segment) >= IDLE_READINGS:
            self._segments[-1] = Segment(track, guide, wanted)
        segment = self._segments[-1]
        segment.waiting = idle
        segment.add(reading)

    def mark(self, what: Mark) -> None:
        """Keep a mark in its place among the readings."""
        segment = self._segments[-1]
        segment.marks.append((len(segment), what))

    def packed(self) -> bytes:
        """Give the whole trace so far, compressed."""
        return pack(self._segments)


def pack(segments: list[Segment]) -> bytes:
    """Compress segments: a JSON head of states and marks, then the columns as differences."""
    head = json.dumps([_head(segment) for segment in segments]).encode()
    body = b"".join(_differences(column) for segment in segments for column in segment.columns)
    return _MAGIC + zlib.compress(struct.pack("<I", len(head)) + head + body, 6)


def unpack(blob: bytes) -> list[Segment]:
    """Read back what ``pack`` wrote; a trace that is damaged or grows too large is a Refusal."""
    if blob[:4] != _MAGIC:
        raise Refusal("the trace is not one of ours (wrong first bytes); nothing can be replayed")
    unzip = zlib.decompressobj()
    try:
        data = unzip.decompress(blob[4:], LARGEST_UNPACKED)
        if unzip.unconsumed_tail or not unzip.eof:
            raise Refusal("the trace is cut short or larger than any bend; it is not replayed")
        (size,) = struct.unpack_from("<I", data)
        heads = msgspec.json.decode(data[4 : 4 + size], type=list[_Head])
        return _segments(heads, data[4 + size :])
    except (
        zlib.error,
        struct.error,
        msgspec.DecodeError,
        KeyError,
        TypeError,
        ValueError,
    ) as error:
        raise Refusal(f"the trace is damaged ({error}); it is not replayed") from error


class _Head(msgspec.Struct):
    track: Track
    guide: Guide
    wanted: Wanted
    readings: int
    marks: list[tuple[int, str, list[float]]]


def _head(segment: Segment) -> Any:
    marks = [(at, type(what).__name__, [float(v) for v in what]) for at, what in segment.marks]
    return msgspec.to_builtins(
        _Head(segment.track, segment.guide, segment.wanted, len(segment), marks)
    )


def _segments(heads: list[_Head], body: bytes) -> list[Segment]:
    out = []
    at = 0
    for head in heads:
        columns = []
        for _ in _GRID:
            columns.append(_sums(body[at : at + 8 * head.readings]))
            at += 8 * head.readings
        if any(len(column) != head.readings for column in columns):
            raise ValueError("fewer readings than its head says")
        marks = [(place, _MARKS[name](*values)) for place, name, values in head.marks]
        out.append(Segment(head.track, head.guide, head.wanted, tuple(columns), marks))
    return out


def _differences(column: "array[int]") -> bytes:
    last = 0
    steps = array("q")
    for value in column:
        steps.append(value - last)
        last = value
    return steps.tobytes()


def _sums(steps: bytes) -> "array[int]":
    total = 0
    column = array("q")
    for step in array("q", steps):
        total += step
        column.append(total)
    return column
