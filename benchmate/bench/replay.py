"""Run a recorded trace through the tracker and the guide once more."""

from typing import NamedTuple

from benchmate import stream
from benchmate.bench.motion.cue import Guide, advise
from benchmate.bench.motion.trace import Segment, unpack
from benchmate.bench.motion.tracker import Happening, Peaked, Rested, Track, follow, mark
from benchmate.store.record import BendRecord


class Replayed(NamedTuple):
    """What a replay gave, and whether it is what was logged."""

    events: tuple[stream.Event, ...]
    """Cue changes as readings, peaks and rests, in order."""
    peaks: tuple[float, ...]
    rests: tuple[float | None, ...]
    agrees: bool
    """Every logged hit's peak and rest came out the same, in the same order."""


def replay(record: BendRecord) -> Replayed:
    """Replay a logged bend's trace; a damaged trace is a Refusal.

    Hits that were taken back are still in the trace, so the logged ones must be among those that
    the replay gives, in order.
    """
    events: list[stream.Event] = []
    peaks: list[float] = []
    rests: list[float | None] = []
    for segment in unpack(record.trace) if record.trace else []:
        for event, happening in _run(segment):
            events.append(event)
            if isinstance(happening, Rested):
                peaks.append(happening.peak)
                rests.append(happening.rest)
    seen = iter(zip(peaks, rests, strict=True))
    agrees = all((hit.peak, hit.rest) in seen for hit in record.hits)
    return Replayed(tuple(events), tuple(peaks), tuple(rests), agrees)


def _run(segment: Segment) -> list[tuple[stream.Event, Happening | None]]:
    track, guide = segment.track, segment.guide
    marks = iter([*segment.marks, (len(segment) + 1, None)])
    place, what = next(marks)
    told: list[tuple[stream.Event, Happening | None]] = []
    for index, reading in enumerate(segment.readings()):
        while what is not None and place <= index:
            track = mark(track, what)
            place, what = next(marks)
        track, happening = follow(track, reading)
        before = guide
        guide = advise(
            guide,
            phase=track.phase,
            latched=track.latched is not None,
            t=reading.t,
            arm=track.arm,
            rate=reading.rate_dps,
            wanted=segment.wanted,
        )
        if guide.cue != before.cue:
            told.append((_cue(track, guide, reading.t, segment.wanted.stop_angle), None))
        match happening:
            case Peaked(arm):
                told.append((stream.Peak(arm=arm), happening))
            case Rested():
                told.append((_rest(happening), happening))
            case _:
                pass
    return told


def _cue(track: Track, guide: Guide, t: float, stop_angle: float) -> stream.Reading:
    return stream.Reading(
        t=t,
        arm=track.arm,
        rate=None,
        sd=None,
        to_go=stop_angle - track.arm,
        phase=track.phase,
        cue=guide.cue,
    )


def _rest(rested: Rested) -> stream.Rest:
    # Of an arm that retracts by itself nothing is known but the peak.
    rest = rested.peak if rested.rest is None else rested.rest
    return stream.Rest(arm=rest, springback=rested.peak - rest)
