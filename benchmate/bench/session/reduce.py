"""What one input makes of a session: the next state, and what is to be said and kept. Pure.

No clock, file, thread or device: the same state and input give the same state and outputs.
"""

from dataclasses import replace
from typing import TypeAlias

import msgspec

from benchmate import stream
from benchmate.bench.inputs import (
    Advised,
    Asked,
    Back,
    Closed,
    Durable,
    Input,
    Lost,
    Tick,
    Wrong,
    on_grid,
)
from benchmate.bench.motion.tracker import (
    Bite,
    FoundArm,
    Happening,
    Lifted,
    LostArm,
    Mark,
    NewBend,
    NewHit,
    NothingBent,
    Peaked,
    Released,
    Rested,
    SameHit,
    Stood,
    TakeZero,
    Track,
    Zeroed,
)
from benchmate.bench.session import arm as arms
from benchmate.bench.session import bend as bends
from benchmate.bench.session import events, journal
from benchmate.bench.session import faults as faulty
from benchmate.bench.session import outbox as posting
from benchmate.bench.session.arm import ArmMotion, SegmentBegun, TraceNote
from benchmate.bench.session.journal import Entry
from benchmate.bench.session.run import Run, UndoStep, advanced, rows_of, said
from benchmate.bench.session.state import State, ToldReading, UnfinishedRun
from benchmate.errors import Refusal
from benchmate.sensing.sample import ArmEstimate
from benchmate.store.record import BendRecord, RunInput

Output: TypeAlias = stream.Event | posting.Row | TraceNote

FINISH_S = 20.0
"""So long a hit in progress may still take once nobody asks any more,"""
LOST_S = 5.0
"""and so long while the arm isn't known."""
READING_EVERY_S = 1.0 / 30.0
GRACE_S = 0.0005
"""The clock's grain must not cost a reading."""


def opened(run: Run, unfinished: UnfinishedRun | None = None) -> tuple[State, tuple[Output, ...]]:
    """Begin a session with this run, or with the question whether to go on with another."""
    state = State(
        run=run, arm=ArmMotion(Track(run.task.follows_tube)), unfinished=unfinished, entries=0
    )
    at_work = _Reduction(state)
    if unfinished is None:
        at_work.begin()
    else:
        at_work.tell(events.unfinished(unfinished))
    return at_work.result()


def carried_on(state: State, run: Run) -> tuple[State, tuple[Output, ...]]:
    """Begin the next tube's run where a finished session left off: faults and advice stand."""
    arm = ArmMotion(Track(run.task.follows_tube))
    if state.faults.blind:
        arm, _ = arms.marked(arm, LostArm())
    at_work = _Reduction(
        State(
            run=run,
            arm=arm,
            faults=replace(state.faults, of_hit=()),
            advice=state.advice,
            copy_advice=state.copy_advice,
            heard=state.heard,
            seen=state.seen,
        )
    )
    at_work.begin()
    return at_work.result()


def reduce(state: State, given: Input) -> tuple[State, tuple[Output, ...]]:
    """Take one input; give the next state and what comes of it, in order."""
    at_work = _Reduction(state)
    at_work.take(given)
    return at_work.result()


class _Reduction:
    """One input on its way through: what it has changed and said so far."""

    def __init__(self, state: State) -> None:
        self._state = state
        self._out: list[Output] = []

    def result(self) -> tuple[State, tuple[Output, ...]]:
        return self._state, tuple(self._out)

    def take(self, given: Input) -> None:
        match given:
            case ArmEstimate():
                self._follow(on_grid(given))
            case Asked(_, command):
                self._obey(command)
            case Wrong(_, detail):
                self._refuse(detail)
            case Lost():
                self._lose(given)
            case Back():
                self._find()
            case Advised(_, advice, "store copy"):
                self._set(copy_advice=advice)
            case Advised(_, advice):
                self._set(advice=advice)
                if self._track.in_hit:
                    self._set(notes=self._notes())
            case Durable():
                self._written(given)
            case Closed():
                self._set(ending=True)
            case Tick(t):
                self._send_again(t)
        if self._state.ending and not self._state.finished:
            self._come_to_an_end(given.t)

    def tell(self, *said: stream.Event) -> None:
        self._out.extend(said)

    def begin(self) -> None:
        """Begin the trace of the bend at hand, and say its target."""
        bend = self._run.bend
        self._out.append(
            SegmentBegun(bend.index, self._track, self._state.arm.guide, bend.wanted, anew=True)
        )
        self._tell_target(self._first_advice())

    def _set(self, **changed: object) -> None:
        self._state = msgspec.structs.replace(self._state, **changed)

    @property
    def _run(self) -> Run:
        return self._state.run

    @property
    def _track(self) -> Track:
        return self._state.arm.track

    # The end

    def _come_to_an_end(self, t: float) -> None:
        state = self._state
        if self._track.in_hit:
            self._hurry(t)
        # Before the sensor was heard of, nobody knows whether there is a bench at all.
        if state.heard and not (self._track.in_hit or self._state.outbox.waiting):
            self._end()

    def _hurry(self, t: float) -> None:
        """Give a hit in progress the time to be finished, then mark it."""
        state, faults = self._state, self._state.faults
        since = t if state.ending_since is None else state.ending_since
        self._set(ending_since=since)
        until = since + FINISH_S
        if faults.blind:
            until = min(until, max(since, faults.blind_since) + LOST_S)
        if t < until:
            return
        self._enter(
            journal.HitBroken(
                peak=self._track.peak,
                sure=self._track.sure and not faults.blind,
                faults=(*faults.of_hit, "the program was ended in mid-hit"),
                notes=self._notes(),
            )
        )
        self._set(arm=arms.left(self._state.arm))

    def _end(self) -> None:
        if self._state.outbox.refused and not self._state.tried_store:
            self._set(tried_store=True)
            self._resend()
            return
        self._set(finished=True)
        if not self._state.failure:
            self.tell(stream.Done())

    # The arm

    def _follow(self, reading: ArmEstimate) -> None:
        self._send_again(reading.t)
        if self._state.faults.blind:
            return
        if not self._state.seen:
            self._set(heard=True, seen=True)
        if self._state.unfinished is not None:
            self._wait_for_answer(reading)
            return
        before = self._state.arm
        arm, happening, notes = arms.followed(before, reading, self._run.bend.wanted)
        self._set(arm=arm)
        self._out.extend(notes)
        if arm.pumped_unseen and not before.pumped_unseen:
            self._tell_target(events.UNSEEN)
        if happening is not None:
            self._happened(happening)
        elif self._track.phase == "bending" and not self._run.in_hit:
            self._enter(journal.HitBegun())
        self._tell_reading(reading)
        if self._state.arm.stands_as_released:
            self._release()

    def _wait_for_answer(self, reading: ArmEstimate) -> None:
        if self._due(reading.t, "zeroing", "wait"):
            self.tell(events.waiting(reading))

    def _release(self) -> None:
        self.tell(stream.Peak(arm=self._track.peak, sure=self._track.sure))
        self._mark(Released())

    def _happened(self, happening: Happening) -> None:
        verdict = self._run.bend.verdict
        match happening:
            case Peaked(arm, sure):
                self.tell(stream.Peak(arm=arm, sure=sure))
            case Rested():
                self._rested(happening)
            case Zeroed():
                self._zeroed()
            case NothingBent():
                self._enter(journal.BentNothing())
                self._tell_target("Nothing was bent: the arm came back to zero. Pump again.")
            case Lifted():
                # Hands are at the pump: a second press begun without asking still gets its cues.
                if verdict is not None and (verdict.verdict == "again" or self._run.bend.asked):
                    self._press_again("again")

    def _rested(self, rested: Rested) -> None:
        if rested.rest is not None:
            self.tell(stream.Rest(arm=rested.rest, springback=rested.peak - rested.rest))
        faults = self._state.faults
        self._enter(
            journal.HitMade(
                peak=rested.peak,
                rest=rested.rest,
                sure=rested.sure,
                sd=round(rested.sd, 4),
                faults=faults.of_hit,
                notes=self._notes(),
            )
        )
        self._set(faults=replace(self._state.faults, of_hit=()), notes=())

    def _zeroed(self) -> None:
        run = self._run
        at = run.zero_at or 0.0
        self._enter(journal.ZeroTaken(at=at))
        bend = self._run.bend
        if bend.verdict is not None and bend.hits:
            # The arm stands on the tube again as its last hit left it.
            self._move(Stood(self._track.zero, at), anew=False)
        else:
            self._begin_segment(anew=True)

    def _notes(self) -> tuple[str, ...]:
        now = (f"supply: {self._state.advice}",) if self._state.advice else ()
        return tuple(dict.fromkeys((*self._state.notes, *now)))

    # What is asked

    def _obey(self, command: stream.Command) -> None:
        match command.word:
            case "take_foot" | "give_foot":
                self._set(foot_taken=command.word == "take_foot")
            case "press" | "hold" if self._state.foot_taken:
                self.tell(stream.Foot(press="short" if command.word == "press" else "long"))
            case "hold":
                self._do(stream.Command("undo"))
            case _:
                self._do(command)

    def _do(self, command: stream.Command) -> None:  # noqa: PLR0912 - one case a command
        if self._state.unfinished is not None:
            self._answer(command, self._state.unfinished)
            return
        verdict = self._run.bend.verdict
        match command.word:
            case "press":
                self._do(stream.Command(self._due_command()))
            case "zero":
                self._zero()
            case "next":
                self._next()
            case "again" if verdict is not None:
                self._press_again("again")
            case "measured" if verdict is not None:
                self._measured(command)
            case "turned" | "marked" | "taped" if verdict is not None and self._run.plan.bends:
                self._place(command)
            case "bite":
                self._bite()
            case "skip" | "undo" | "scrap" if self._track.in_hit:
                self._refuse(f"'{command.word}' is for between hits; release the tube first")
            case "skip":
                self._go_on_with(journal.Skipped())
            case "undo":
                self._undo()
            case "scrap":
                self._scrap()
            case "quit":
                self._set(ending=True)
            case "go_on" | "new" as word:
                self._refuse(f"'{word}' answers for an unfinished part; none waits for an answer")
            case word:
                self._refuse(f"'{word}' is for after a verdict and before next; none stands now")

    def _due_command(self) -> str:
        verdict = self._run.bend.verdict
        done = verdict is not None and verdict.verdict in ("accept", "over")
        return "zero" if self._track.phase == "zeroing" and not done else "next"

    def _answer(self, command: stream.Command, unfinished: UnfinishedRun) -> None:
        match command.word:
            case "go_on" | "press" | "next":
                self._resume(unfinished)
            case "new":
                self._drop(unfinished)
            case "quit":
                self._set(ending=True)
            case word:
                self._refuse(
                    f"'{word}' has to wait: say go_on to finish the part that was begun, or new to "
                    "begin another"
                )

    def _resume(self, unfinished: UnfinishedRun) -> None:
        self._set(run=unfinished.run, entries=unfinished.entries, unfinished=None)
        self._set(arm=ArmMotion(Track(self._run.task.follows_tube)))
        for row in rows_of(self._run):
            if not _same_content(row, unfinished.logged.get(row.bend_id)):
                # The journal was kept and the bend's row was not: the plug was pulled between them.
                self._post(row)
        kept = self._run.bend
        self._enter(journal.Resumed(), judge=False)
        bend = self._run.bend
        self._begin_segment(anew=True)
        self._tell_target("" if bend.hits else self._first_advice())
        if bend.verdict is not None:
            self.tell(events.verdict(bend))
        if bend == kept and bend.bend_id in unfinished.logged:
            # It is in the log since before the stop, whoever listens now.
            self.tell(stream.Logged(id=bend.bend_id, bend=bend.number))

    def _drop(self, unfinished: UnfinishedRun) -> None:
        kind, payload = journal.written(journal.Dropped())
        run_id = unfinished.run.task.run_id
        self._set(unfinished=None)
        self._post(
            RunInput(run_id=run_id, number=unfinished.entries + 1, kind=kind, payload=payload)
        )
        self.begin()

    def _zero(self) -> None:
        run, phase = self._run, self._track.phase
        again = phase == "ready" and not run.bend.hits
        again = again or (run.just_zeroed and phase in ("ready", "resting"))
        if phase != "zeroing" and not again:
            self._refuse("zero is due before a bend's first hit, with the tube snug and unloaded")
            return
        if again:
            # Taken anew it is the same zero, of the same tube.
            self._set(run=replace(run, zeroed=False))
        if run.bend.hits and self._run.zero_at is None:
            self._refuse(
                "measure the tube first: how far it is bent is not known, so its zero isn't"
            )
            return
        self._mark(TakeZero(self._run.zero_at or 0.0))

    def _measured(self, command: stream.Command) -> None:
        (angle,) = command.numbers
        why = "" if command.insists else bends.not_so(self._run.bend, angle, self._run.model)
        if why:
            self._refuse(why)
            return
        self._enter(journal.AngleMeasured(angle=angle))

    def _next(self) -> None:
        verdict = self._run.bend.verdict
        if verdict is not None and (verdict.verdict == "again" or self._run.bend.asked):
            self._press_again("next")
        elif verdict is not None:
            self._go_on_with(journal.WentOn())
        elif self._state.arm.may_be_released:
            self._release()
        else:
            self._refuse("'next' does what a verdict says; none stands now")

    def _bite(self) -> None:
        if not self._run.task.bites:
            self._refuse("this bender takes no bites; bench.yaml says so (arm: bites)")
        elif self._track.phase not in ("bending", "holding"):
            self._refuse("'bite' is for a loaded tube; pump first")
        else:
            self._mark(Bite())

    def _place(self, command: stream.Command) -> None:
        """Take a turn, a mark or a distance across the part that a person measured."""
        entry: Entry
        match command:
            case stream.Command("turned", (turn,)):
                entry = journal.TurnMeasured(turn=turn)
            case stream.Command("marked", (mark,)):
                entry = journal.MarkMeasured(mark=mark)
            case stream.Command(_, (one, other, distance)):
                entry = journal.DistanceMeasured(one=int(one), other=int(other), distance=distance)
            case _:
                raise ValueError(f"{command.word} measures no place")
        try:
            self._enter(entry)
        except Refusal as refusal:
            self._refuse(str(refusal))

    def _press_again(self, word: str) -> None:
        if self._track.phase == "zeroing" and self._run.zero_at is not None:
            self._refuse(
                "zero first, with the bent tube seated as it was: the stop angle counts from there"
            )
            return
        self._enter(journal.PressedAgain(word=word))
        self._mark(NewHit())
        arm, notes = arms.guided_anew(self._state.arm, self._run.bend.index, self._run.bend.wanted)
        self._set(arm=arm)
        self._out.extend(notes)
        self._tell_target()

    def _go_on_with(self, entry: journal.WentOn | journal.Skipped) -> None:
        self._enter(entry)
        if self._run.over:
            self._set(arm=arms.left(self._state.arm), ending=True)
            self._enter(journal.Finished())
            return
        self._move(NewBend(), anew=True)
        self._tell_target(self._first_advice())

    def _scrap(self) -> None:
        """Leave this tube as scrap; whoever runs the session begins another."""
        if not (self._run.done or self._run.bend.hits):
            self._refuse("nothing is bent of this tube yet: put another one in, and go on")
            return
        self._enter(journal.Dropped())
        self._set(arm=arms.left(self._state.arm), ending=True)

    def _undo(self) -> None:
        """Go back to how all stood before the last step, in the log by a new row."""
        step = self._run.step
        if self._track.phase == "zeroing" and self._track.zero_asked:
            self._move(NewBend(), anew=not self._run.bend.hits)
            self._tell_target(self._first_advice(), events.undone("zero", self._run.bend))
            return
        if step is None:
            self._refuse("there is nothing to undo")
            return
        self._enter(journal.TakenBack(), judge=False)
        bend = self._run.bend
        self._move(self._way_back(step), anew=not bend.hits)
        told = "" if bend.hits else self._first_advice()
        self._tell_target(told, events.undone(step.what, bend))
        if bend.verdict is not None:
            self.tell(events.verdict(bend))

    def _way_back(self, step: UndoStep) -> Mark:
        """Give the mark that brings the tracker to where the step left from."""
        bend, track = self._run.bend, self._track
        rest = bend.hits[-1].rest if bend.hits else None
        same_sitting = step.run.sitting == self._run.sitting
        zeroed = same_sitting or self._run.zeroed
        if bend.verdict is not None and zeroed:
            zero = step.zero if same_sitting else track.zero
            stands = track.arm + track.zero - zero
            return Stood(zero, stands if rest is None else rest)
        if step.what.startswith("hit") and zeroed:
            return SameHit(rest or 0.0, first=not bend.hits)
        return NewBend()

    # Run, log, faults

    def _enter(self, entry: Entry, *, judge: bool = True) -> None:
        """Enter what was done in the journal, and say the verdict that it brings, if any."""
        run, rows = advanced(self._run, entry, self._track.zero)
        first = self._state.entries == 0
        self._set(run=run, entries=self._state.entries + 1)
        if first:
            self._post(run.task.record())
        kind, payload = journal.written(entry)
        self._post(
            RunInput(run_id=run.task.run_id, number=self._state.entries, kind=kind, payload=payload)
        )
        if judge and _brings_verdict(entry) and run.bend.verdict is not None:
            if run.zero_at is not None:
                # Where the arm stands on the bent tube is known only now.
                self._tell_target()
            self._tell_verdict(said(entry))
        for row in rows:
            self._post(row)

    def _tell_verdict(self, taken: str = "") -> None:
        self.tell(events.verdict(self._run.bend, taken, events.advice_on(self._run, taken)))

    def _post(self, row: posting.Row) -> None:
        outbox, now = posting.sent(self._state.outbox, row)
        self._set(outbox=outbox)
        self._out.extend(now)

    def _send_again(self, t: float) -> None:
        if posting.due_again(self._state.outbox, t):
            self._resend()

    def _resend(self) -> None:
        outbox, rows = posting.sent_again(self._state.outbox)
        self._set(outbox=outbox)
        self._out.extend(rows)

    def _written(self, durable: Durable) -> None:
        outbox, row = posting.answered(self._state.outbox, durable.t, kept=not durable.failure)
        self._set(outbox=outbox)
        if durable.failure:
            faults, said_of = faulty.stood(self._state.faults, "store", durable.failure)
            self._set(faults=faults)
            self.tell(*said_of)
            return
        refused = bool(outbox.refused)
        if not (outbox.waiting or refused or outbox.given_up):
            faults, said_of = faulty.cleared(self._state.faults, "store")
            self._set(faults=faults)
            self.tell(*said_of)
        if isinstance(row, BendRecord):
            self.tell(stream.Logged(id=row.bend_id, bend=row.bend))
        if refused:
            self._resend()

    def _lose(self, lost: Lost) -> None:
        self._set(heard=True)
        if not self._state.faults.blind:
            self._mark(LostArm())
        faults, said_of = faulty.lost(self._state.faults, lost, in_hit=self._track.in_hit)
        self._set(faults=faults, told=None)
        self.tell(*said_of, events.blind(lost.t, self._phase()))

    def _find(self) -> None:
        faults, said_of = faulty.found(self._state.faults)
        self._set(faults=faults)
        self.tell(*said_of)
        self._mark(FoundArm())

    def _refuse(self, detail: str) -> None:
        self.tell(stream.Fault(what="command", detail=detail))

    def _mark(self, what: Mark) -> None:
        arm, notes = arms.marked(self._state.arm, what)
        self._set(arm=arm)
        self._out.extend(notes)

    def _move(self, what: Mark, *, anew: bool) -> None:
        bend = self._run.bend
        arm, notes = arms.moved(self._state.arm, what, bend.index, bend.wanted, anew=anew)
        self._set(arm=arm)
        self._out.extend(notes)

    def _begin_segment(self, *, anew: bool) -> None:
        bend, arm = self._run.bend, self._state.arm
        self._out.append(SegmentBegun(bend.index, arm.track, arm.guide, bend.wanted, anew=anew))

    # Telling

    def _phase(self) -> stream.Phase:
        phase, outbox = self._track.phase, self._state.outbox
        if phase == "resting" and not (outbox.waiting or outbox.refused):
            return "logged"
        return phase

    def _due(self, t: float, phase: stream.Phase, cue: stream.Cue) -> bool:
        """Say whether a reading is to be told; if so, it counts as told."""
        told = self._state.told
        if (
            told is not None
            and t - told.t < READING_EVERY_S - GRACE_S
            and (told.phase, told.cue) == (phase, cue)
        ):
            return False
        self._set(told=ToldReading(t, phase, cue))
        return True

    def _tell_reading(self, reading: ArmEstimate) -> None:
        state = self._state
        unkept = state.faults.unkept
        phase, cue = self._phase(), "wait" if unkept else state.arm.guide.cue
        if not self._due(reading.t, phase, cue):
            return
        if unkept:
            self.tell(events.blind(reading.t, phase))
            return
        stop_angle = self._run.bend.target.stop_angle
        self.tell(
            events.reading(
                reading, self._track, state.arm.guide, phase, stop_angle, advice=state.all_advice
            )
        )

    def _first_advice(self) -> str:
        task = self._run.task
        return " ".join(filter(None, (task.caution, self._run.bend.target.advice)))

    def _tell_target(self, advice: str = "", undone: str = "") -> None:
        self.tell(events.target(self._run, advice, undone))


def _brings_verdict(entry: Entry) -> bool:
    return bool(said(entry)) or isinstance(entry, journal.HitMade)


def _same_content(row: BendRecord, logged: BendRecord | None) -> bool:
    """Say whether the log holds what the journal says of a bend."""
    if logged is None:
        return False
    return (row.hits, row.verdict, row.withdrawn) == (logged.hits, logged.verdict, logged.withdrawn)
