"""A session at the bender: targets, hits, verdicts and what to log, from inputs alone.

No clock, file, thread or device: the same inputs give the same outputs. What goes out is stream
events, in order, and rows for the store between them.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import TypeAlias

from benchmate import stream
from benchmate.bench import piece as pieces
from benchmate.bench import tell
from benchmate.bench.arm import Arm
from benchmate.bench.course import CarryOn, Course, Way
from benchmate.bench.ending import Ending
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
from benchmate.bench.keeping import Keeping
from benchmate.bench.measuring import as_said, end_of_part, placed
from benchmate.bench.motion.tracker import (
    Bite,
    FoundArm,
    Happening,
    Lifted,
    LostArm,
    NewHit,
    NothingBent,
    Peaked,
    Rested,
    TakeZero,
    Track,
    Zeroed,
)
from benchmate.bench.pacing import Pace
from benchmate.bench.piece import Model, Piece
from benchmate.bench.standing import Faults
from benchmate.bench.steps import Step, is_zero_of
from benchmate.bench.task import Task
from benchmate.errors import Refusal
from benchmate.sensing.sample import ArmEstimate
from benchmate.store.record import BendRecord

Output: TypeAlias = stream.Event | BendRecord


class Session:
    """The state of one run of ``watch``: which bend, which hit, what stands."""

    def __init__(
        self,
        task: Task,
        model: Model,
        new_id: Callable[[], str],
        carry_on: CarryOn | None = None,
    ) -> None:
        """Begin with the task's first bend; ``carry_on`` plans the rest anew from what came out."""
        self.finished = False
        self._task = task
        self._model = model
        self._new_id = new_id
        self._way = Way(carry_on, task.first_bend - 1)
        self._before: tuple[tuple[Model, Piece], ...] = ()
        """The bends gone by, each with the model as it was before it."""
        self._steps: list[Step] = []
        self._course = Course()
        self._course, self._piece = self._begin(task.first_bend - 1)
        self._arm = Arm(Track(task.follows_tube), self._piece.wanted)
        self._faults = Faults()
        self._advice = ""
        """What wants looking after and doesn't spoil the angle."""
        self._keeping = Keeping()
        self._ending = Ending()
        self._told_of = self._seen = False
        """Whether the sensor has been heard of, and whether it ever told an arm angle."""
        self._pace = Pace()
        self._out: list[Output] = []

    def open(self) -> list[Output]:
        """Give what is said before any input: the first target."""
        self._tell_target(self._first_advice())
        return self._taken()

    def step(self, given: Input) -> list[Output]:
        """Take one input; give what it brings about, in order."""
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
            case Advised(_, advice):
                self._advise(advice)
            case Durable():
                self._written(given)
            case Closed():
                self._ending.asked = True
            case Tick(t):
                self._out.extend(self._keeping.again(t))
        if self._ending.asked and not self.finished:
            self._come_to_an_end(given.t)
        return self._taken()

    @property
    def failure(self) -> str:
        """Say in a sentence why this was no good run; empty when it was one."""
        if self.unkept:
            return f"bends that could not be kept in the log: {self.unkept}"
        if not self._seen:
            return f"no arm angle ever came: {'; '.join(self._faults.details)}"
        return ""

    @property
    def unkept(self) -> int:
        """Give how many bends the store could not keep."""
        return self._keeping.refused

    def _come_to_an_end(self, t: float) -> None:
        if self._arm.track.in_hit:
            self._hurry(t)
        # Before the sensor was heard of, nobody knows whether there is a bench at all.
        if self._told_of and not (self._arm.track.in_hit or self._keeping.waiting):
            self._end()

    def _end(self) -> None:
        if self.unkept and not self._ending.tried_store:
            self._ending.tried_store = True
            self._out.extend(self._keeping.all_again())
            return
        self.finished = True
        if not self.failure:
            self._out.append(stream.Done())

    def _taken(self) -> list[Output]:
        out, self._out = self._out, []
        return out

    # The arm

    def _follow(self, reading: ArmEstimate) -> None:
        self._out.extend(self._keeping.again(reading.t))
        if self._faults.blind:
            return
        self._told_of = self._seen = True
        unseen = self._arm.pumped_unseen
        happening = self._arm.follow(reading, self._piece.wanted)
        if self._arm.pumped_unseen and not unseen:
            self._tell_target(tell.UNSEEN)
        if happening is not None:
            self._happened(happening)
        self._tell_reading(reading)
        if self._arm.stands_as_released:
            self._release()

    def _release(self) -> None:
        track = self._arm.track
        self._out.append(stream.Peak(arm=track.peak, sure=track.sure))
        self._arm.release()

    def _happened(self, happening: Happening) -> None:
        match happening:
            case Peaked(arm, sure):
                self._out.append(stream.Peak(arm=arm, sure=sure))
            case Rested(peak, rest):
                if rest is not None:
                    self._out.append(stream.Rest(arm=rest, springback=peak - rest))
                if self._piece.verdict is None:
                    self._step(f"hit {len(self._piece.hits) + 1}")
                self._note_advice()
                faults, self._faults.of_hit = self._faults.of_hit, ()
                self._judge(pieces.hit(self._piece, happening, faults, self._model))
            case Zeroed():
                self._arm.begin(self._piece.wanted, anew=True)
            case NothingBent():
                self._tell_target("Nothing was bent: the arm came back to zero. Pump again.")
            case Lifted():
                # Hands are at the pump: a second press begun without asking still gets its cues.
                if self._piece.verdict is not None and self._piece.verdict.verdict == "again":
                    self._new_hit("again")

    def _judge(self, piece: Piece, taken: str = "") -> None:
        self._piece = piece
        is_last = piece.number == len(self._task.bend_angles) and self._course.places
        advice = end_of_part(piece, self._with) if is_last else ""
        self._out.append(tell.verdict(piece, taken, advice))
        self._log()

    # What is asked

    def _obey(self, command: stream.Command) -> None:
        verdict = self._piece.verdict
        match command.word:
            case "press":
                due = "zero" if self._arm.track.phase == "zeroing" else "next"
                self._obey(stream.Command(due))
            case "zero":
                self._zero()
            case "next":
                self._next()
            case "again" if verdict is not None:
                self._new_hit("again")
            case "measured" if verdict is not None:
                self._measured(command.numbers[0])
            case "turned" | "marked" | "taped" if verdict is not None and self._course.places:
                self._place(command)
            case "bite":
                self._bite()
            case "skip" | "undo" if self._arm.track.in_hit:
                self._refuse(f"'{command.word}' is for between hits; release the tube first")
            case "skip":
                self._skip()
            case "undo":
                self._undo()
            case "quit":
                self._ending.asked = True
            case word:
                self._refuse(f"'{word}' is for after a verdict and before next; none stands now")

    def _zero(self) -> None:
        unbent = self._arm.track.phase == "ready" and not self._piece.hits
        if self._arm.track.phase == "zeroing" or unbent:
            if not is_zero_of(self._piece.index, self._steps):
                self._step("zero")
            self._arm.mark(TakeZero())
        else:
            self._refuse("zero is due before a bend's first hit, with the tube snug and unloaded")

    def _measured(self, angle: float) -> None:
        if why := pieces.not_so(self._piece, angle):
            self._refuse(why)
            return
        taken = f"measured {angle:g}"
        self._step(taken)
        self._judge(pieces.measured(self._piece, angle, self._model), taken)

    def _next(self) -> None:
        verdict = self._piece.verdict
        if verdict is not None and verdict.verdict == "again":
            self._new_hit("next")
        elif verdict is not None:
            self._finish_bend("next")
        elif self._arm.may_be_released:
            self._release()
        else:
            self._refuse("'next' does what a verdict says; none stands now")

    def _bite(self) -> None:
        if not self._task.bites:
            self._refuse("this bender takes no bites; bench.yaml says so (arm: bites)")
        elif self._arm.track.phase not in ("bending", "holding"):
            self._refuse("'bite' is for a loaded tube; pump first")
        else:
            self._arm.mark(Bite())

    def _skip(self) -> None:
        if self._piece.hits and self._piece.verdict is None:
            # Bent it is, if not as far as the press again would have: its verdict stands.
            self._piece = self._steps.pop().piece
        self._finish_bend("skip")

    def _undo(self) -> None:
        if self._steps:
            self._take_back(self._steps.pop())
        else:
            self._refuse("there is nothing to undo")

    def _step(self, what: str) -> None:
        """Keep how all stands: what comes now can be taken back."""
        so_far = (self._piece, self._model, self._before, self._course)
        self._steps.append(Step(what, *so_far, self._arm.track.zero, self._arm.trace))

    def _take_back(self, step: Step) -> None:
        """Go back to how all stood before the step; the log gets a new row where it differs."""
        was, piece = self._piece, step.piece
        if was.index == piece.index:
            if was.record is not None and not piece.hits:
                self._withdraw()
            if piece.record is None:
                piece = replace(piece, bend_id=self._piece.bend_id)
        self._piece, self._model, self._before = piece, step.model, step.before
        self._course = step.course
        back = step.mark(self._arm.track)
        self._arm.go_to(back, step.trace, piece.wanted, anew=not piece.hits)
        told = "" if piece.hits else self._first_advice()
        self._tell_target(told, tell.undone(step.what, piece))
        if piece.verdict is not None:
            self._out.append(tell.verdict(piece))
        if piece.record is not None and (was.index != piece.index or was.hits != piece.hits):
            self._log()

    # Bends and hits

    def _start_bend(self, index: int) -> None:
        self._course, self._piece = self._begin(index)
        self._arm.next_bend(self._piece.wanted)
        self._tell_target(self._first_advice())

    def _begin(self, index: int) -> tuple[Course, Piece]:
        done = [piece for _, piece in self._before]
        way = self._way.after(done, self._model, self._course)
        angle = way.places[index].angle_deg if way.places else None
        return way, pieces.begin(self._task, self._model, index, self._new_id(), angle)

    def _place(self, command: stream.Command) -> None:
        """Take a turn, a mark or a distance across the part that a person measured."""
        try:
            piece, advice = placed(self._piece, command, self._course, self._with)
        except Refusal as refusal:
            self._refuse(str(refusal))
            return
        taken = as_said(command)
        self._step(taken)
        self._piece = piece
        self._out.append(tell.verdict(piece, taken, advice))

    def _with(self, piece: Piece) -> Course:
        """Plan on with the piece as it is; Refusal when that can't be."""
        return self._way.trial([*(piece for _, piece in self._before), piece], self._model)

    def _finish_bend(self, what: str) -> None:
        self._step(what)
        self._before = (*self._before, (self._model, self._piece))
        self._model = pieces.taught(self._piece, self._task, self._model)
        if self._piece.number < len(self._task.bend_angles):
            self._start_bend(self._piece.index + 1)
        else:
            self._piece = replace(self._piece, verdict=None)
            self._arm.leave()
            self._ending.asked = True

    def _new_hit(self, what: str) -> None:
        self._step(what)
        self._piece = pieces.next_hit(self._piece, self._model)
        self._arm.mark(NewHit())
        self._arm.next_hit(self._piece.wanted)
        self._tell_target()

    # Faults and the log

    def _lose(self, lost: Lost) -> None:
        self._told_of = True
        if not self._faults.blind:
            self._arm.mark(LostArm())
        self._out.extend(self._faults.lose(lost, in_hit=self._arm.track.in_hit))
        self._out.append(tell.blind(lost.t, self._phase()))
        self._pace.forget()

    def _advise(self, advice: str) -> None:
        self._advice = advice
        if self._arm.track.in_hit:
            self._note_advice()

    def _note_advice(self) -> None:
        if self._advice:
            self._faults.note(f"supply: {self._advice}")

    def _find(self) -> None:
        self._out.extend(self._faults.find())
        self._arm.mark(FoundArm())

    def _refuse(self, detail: str) -> None:
        self._out.append(stream.Fault(what="command", detail=detail))

    def _log(self) -> None:
        record = pieces.row(self._piece, self._task, self._arm.trace.packed())
        self._piece = replace(self._piece, record=record)
        self._out.append(self._keeping.send(record))

    def _withdraw(self) -> None:
        trace = self._arm.trace.packed()
        record = pieces.row(self._piece, self._task, trace, withdrawn=True)
        self._out.append(self._keeping.send(record))
        # What is bent here from now on is another bend in the log.
        self._piece = replace(self._piece, record=None, bend_id=self._new_id())

    def _written(self, durable: Durable) -> None:
        self._keeping.answered(durable.t, kept=not durable.failure)
        if durable.failure:
            self._out.extend(self._faults.stand("store", durable.failure))
            return
        again = self._keeping.all_again()
        if not self._keeping.waiting:
            self._out.extend(self._faults.clear("store"))
        self._out.append(stream.Logged(id=durable.bend_id, bend=durable.bend))
        self._out.extend(again)

    def _hurry(self, t: float) -> None:
        """Give a hit in progress the time to be finished, then mark it."""
        track, blind = self._arm.track, self._faults.blind
        if not self._ending.too_late(t, self._faults.blind_since if blind else None):
            return
        faults = (*self._faults.of_hit, "the program was ended in mid-hit")
        sure = track.sure and not blind
        self._piece = pieces.broken_off(self._piece, track.peak, faults, sure=sure)
        self._log()
        self._arm.leave()

    # Telling

    def _phase(self) -> stream.Phase:
        if self._arm.track.phase == "resting" and not (self._keeping.waiting or self.unkept):
            return "logged"
        return self._arm.track.phase

    def _tell_reading(self, reading: ArmEstimate) -> None:
        unsaid = self._faults.unkept
        phase, cue = self._phase(), "wait" if unsaid else self._arm.guide.cue
        if not self._pace.due(reading.t, phase, cue):
            return
        if unsaid:
            self._out.append(tell.blind(reading.t, phase))
            return
        arm, stop_angle = self._arm, self._piece.target.stop_angle
        self._out.append(
            tell.reading(reading, arm.track, arm.guide, phase, stop_angle, advice=self._advice)
        )

    def _first_advice(self) -> str:
        return " ".join(filter(None, (self._task.caution, self._piece.target.advice)))

    def _tell_target(self, advice: str = "", undone: str = "") -> None:
        bends = len(self._task.bend_angles)
        self._out.append(tell.target(self._piece, self._course, bends, advice, undone))
