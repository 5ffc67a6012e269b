"""Where the state of a session is kept, and the traces of its bends."""

from collections.abc import Callable
from dataclasses import replace
from typing import TypeAlias

from benchmate import stream
from benchmate.bench.inputs import Asked, Closed, Input
from benchmate.bench.motion.trace import Recorder
from benchmate.bench.session.arm import MarkSet, ReadingSeen, SegmentBegun
from benchmate.bench.session.outbox import Row
from benchmate.bench.session.reduce import Output, carried_on, opened, reduce
from benchmate.bench.session.run import Run
from benchmate.bench.session.state import State, UnfinishedRun
from benchmate.store.record import BendRecord

Told: TypeAlias = stream.Event | Row


def _no_other() -> Run | None:
    """Give no further tube: the run is the only one."""
    return None


class Session:
    """One run of ``watch``, tube after tube: its state, moved on by ``reduce`` alone."""

    def __init__(
        self,
        run: Run,
        unfinished: UnfinishedRun | None = None,
        another: Callable[[], Run | None] = _no_other,
    ) -> None:
        """Begin with this run, or by asking whether to go on with the unfinished one.

        ``another`` gives the run of the next tube, once all of the one before is durable; None:
        the job has all its tubes.
        """
        self._state, self._said = opened(run, unfinished)
        self._another = another
        self._left = False
        self._traces: dict[int, Recorder] = {}
        self._at = run.bend.index
        self._traced: dict[str, tuple[float, ...]] = {}
        """Of each bend whose trace was given to the store: the peaks of its hits then."""

    @property
    def state(self) -> State:
        """Give the state as it is now."""
        return self._state

    @property
    def finished(self) -> bool:
        """Say whether it is over."""
        return self._state.finished

    def open(self) -> list[Told]:
        """Give what is said before any input."""
        return self._kept(self._said)

    def step(self, given: Input) -> list[Told]:
        """Take one input; give what it brings about, in order."""
        self._left = self._left or isinstance(given, Closed)
        self._left = self._left or (isinstance(given, Asked) and given.command.word == "quit")
        self._state, said = reduce(self._state, given)
        return [*self._kept(said[:-1]), *self._next_tube(said[-1:])]

    def _next_tube(self, last: tuple[Output, ...]) -> list[Told]:
        """Give the last thing said; in place of ``done`` the next tube's first target, if any."""
        state = self._state
        if not (state.finished and state.run.over) or self._left:
            return self._kept(last)
        if state.failure or state.outbox.refused:
            # A tube that isn't on record would be counted wrong from here on.
            return self._kept(last)
        run = self._another()
        if run is None:
            return self._kept(last)
        self._state, said = carried_on(state, run)
        self._traces, self._traced = {}, {}
        return self._kept(said)

    def _kept(self, said: tuple[Output, ...]) -> list[Told]:
        """Keep in the traces what belongs there; a bend's row takes its trace along."""
        told: list[Told] = []
        for output in said:
            match output:
                case SegmentBegun(bend, track, guide, wanted, anew):
                    self._at = bend
                    self._traces.setdefault(bend, Recorder()).begin(track, guide, wanted, anew=anew)
                case ReadingSeen():
                    self._traces[self._at].add(*output)
                case MarkSet(what):
                    if self._at in self._traces:
                        self._traces[self._at].mark(what)
                case BendRecord():
                    told.append(self._with_trace(output))
                case _:
                    told.append(output)
        return told

    def _with_trace(self, row: BendRecord) -> BendRecord:
        """Give the row with its trace, unless it is one of the same hits again."""
        trace = self._traces.get(row.bend - 1)
        peaks = tuple(hit.peak for hit in row.hits)
        if trace is None or self._traced.get(row.bend_id) == peaks:
            return row
        self._traced[row.bend_id] = peaks
        return replace(row, trace=trace.packed())
