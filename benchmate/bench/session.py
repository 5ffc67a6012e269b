"""A session at the bender: targets, hits, verdicts and what to log, from inputs alone.

No clock, file, thread or device: the same inputs give the same outputs. What goes out is stream
events, in order, and rows for the store between them.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple, TypeAlias

from benchmate import stream
from benchmate.bench import piece as pieces
from benchmate.bench import tell
from benchmate.bench.course import CarryOn, Course, course
from benchmate.bench.guide import Guide, advise
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
from benchmate.bench.piece import Model, Piece
from benchmate.bench.task import Task
from benchmate.bench.trace import Recorder
from benchmate.bench.tracker import (
    LIFT_DEG,
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
    follow,
    mark,
)
from benchmate.errors import Refusal
from benchmate.layout.distances import Distance
from benchmate.sensing.sample import Reading
from benchmate.store.record import BendRecord

Output: TypeAlias = stream.Event | BendRecord

READING_EVERY_S = 1.0 / 30.0
FINISH_S = 20.0
"""So long a hit in progress may still take once nobody asks any more,"""
LOST_S = 5.0
"""and so long while the arm isn't known."""
PRESSED_S = 10.0
"""So long an arm that moved unseen may stand past the stop before it is taken for released."""


class Step(NamedTuple):
    """How all stood before a step that can be taken back."""

    what: str
    piece: Piece
    model: Model
    before: tuple[tuple[Model, Piece], ...]
    course: Course
    zero: float
    trace: Recorder


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
        self._carry_on = carry_on
        self._before: tuple[tuple[Model, Piece], ...] = ()
        """The bends gone by, each with the model as it was before it."""
        self._steps: list[Step] = []
        self._track = Track(task.follows_tube)
        self._guide = Guide()
        self._trace = Recorder()
        self._course = Course()
        self._course, self._piece = self._begin(task.first_bend - 1)
        self._faults: dict[stream.FaultWhat, str] = {}
        self._faults_of_hit: tuple[str, ...] = ()
        self._advice = ""
        """What wants looking after and doesn't spoil the angle."""
        self._keeping = Keeping()
        self._ending = False
        self._tried_last = False
        self._ending_since: float | None = None
        self._blind_since = 0.0
        self._pumped_unseen = False
        """The arm went up in this hit while nobody saw it."""
        self._told_of = self._seen = False
        """Whether the sensor has been heard of, and whether it ever told an arm angle."""
        self._told: tuple[float, stream.Phase, stream.Cue] | None = None
        self._out: list[Output] = []
        self._trace.begin(self._track, self._guide, self._piece.wanted, anew=True)

    def open(self) -> list[Output]:
        """Give what is said before any input: the first target."""
        self._tell_first_target()
        return self._taken()

    def step(self, given: Input) -> list[Output]:
        """Take one input; give what it brings about, in order."""
        match given:
            case Reading():
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
                self._ending = True
            case Tick(t):
                self._out.extend(self._keeping.again(t))
        if self._ending and not self.finished:
            self._come_to_an_end(given.t)
        return self._taken()

    @property
    def failure(self) -> str:
        """Say in a sentence why this was no good run; empty when it was one."""
        if self.unkept:
            return f"bends that could not be kept in the log: {self.unkept}"
        if not self._seen:
            return f"no arm angle ever came: {'; '.join(self._faults.values())}"
        return ""

    @property
    def unkept(self) -> int:
        """Give how many bends the store could not keep."""
        return self._keeping.refused

    def _come_to_an_end(self, t: float) -> None:
        if self._track.in_hit:
            self._hurry(t)
        # Before the sensor was heard of, nobody knows whether there is a bench at all.
        if self._told_of and not (self._track.in_hit or self._keeping.waiting):
            self._end()

    def _end(self) -> None:
        if self.unkept and not self._tried_last:
            self._tried_last = True
            self._out.extend(self._keeping.all_again())
            return
        self.finished = True
        if not self.failure:
            self._out.append(stream.Done())

    def _taken(self) -> list[Output]:
        out, self._out = self._out, []
        return out

    # The arm

    def _follow(self, reading: Reading) -> None:
        self._out.extend(self._keeping.again(reading.t))
        if self._blind():
            return
        self._told_of = self._seen = True
        wanted = self._piece.wanted
        self._trace.add(reading, self._track, self._guide, wanted)
        before = self._track
        self._track, happening = follow(before, reading)
        self._guide = advise(
            self._guide,
            phase=self._track.phase,
            latched=self._track.latched is not None,
            t=reading.t,
            arm=self._track.arm,
            rate=reading.rate_dps,
            wanted=wanted,
        )
        if before.found and self._track.arm > before.highest + LIFT_DEG:
            self._pumped_unseen = True
            self._tell_target(_UNSEEN)
        elif not self._track.in_hit:
            self._pumped_unseen = False
        if happening is not None:
            self._happened(happening)
        self._tell_reading(reading)
        if self._stands_past_the_stop():
            self._release()

    def _stands_past_the_stop(self) -> bool:
        """Say whether an arm that was pumped unseen stands as only a released one goes on to."""
        return (
            self._track.phase == "holding"
            and self._pumped_unseen
            and self._guide.cue in ("stop", "over")
            and self._track.spell.lasts(PRESSED_S)
        )

    def _release(self) -> None:
        self._out.append(stream.Peak(arm=self._track.peak, sure=self._track.sure))
        self._mark(Released())

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
                self._judge(pieces.hit(self._piece, happening, self._faults_of_hit, self._model))
                self._faults_of_hit = ()
            case Zeroed():
                self._trace.begin(self._track, self._guide, self._piece.wanted, anew=True)
            case NothingBent():
                self._tell_target("Nothing was bent: the arm came back to zero. Pump again.")
            case Lifted():
                # Hands are at the pump: a second press begun without asking still gets its cues.
                if self._piece.verdict is not None and self._piece.verdict.verdict == "again":
                    self._new_hit("again")

    def _judge(self, piece: Piece, taken: str = "") -> None:
        self._piece = piece
        self._out.append(tell.verdict(piece, taken, self._end_of_part()))
        self._log()

    def _end_of_part(self) -> str:
        """Say where a part that has its last bend ends, if not where it should."""
        piece = self._piece
        last = piece.number == len(self._task.bend_angles) and self._course.places
        if not last or piece.verdict is None or piece.verdict.verdict not in ("accept", "over"):
            return ""
        try:
            lost = self._with(piece).lost
        except Refusal:
            return ""
        advice = piece.verdict.advice
        return f"{advice} The part's end is {lost}.".strip() if lost else ""

    # What is asked

    def _obey(self, command: stream.Command) -> None:
        verdict = self._piece.verdict
        match command.word:
            case "press":
                due = "zero" if self._track.phase == "zeroing" else "next"
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
            case "skip":
                self._skip()
            case "undo":
                self._undo()
            case "quit":
                self._ending = True
            case word:
                self._refuse(f"'{word}' is for after a verdict and before next; none stands now")

    def _zero(self) -> None:
        unbent = self._track.phase == "ready" and not self._piece.hits
        if self._track.phase == "zeroing" or unbent:
            if not self._zero_taken():
                self._step("zero")
            self._mark(TakeZero())
        else:
            self._refuse("zero is due before a bend's first hit, with the tube snug and unloaded")

    def _zero_taken(self) -> bool:
        """Say whether the last step is this bend's zero already."""
        last = self._steps[-1] if self._steps else None
        return last is not None and (last.what, last.piece.index) == ("zero", self._piece.index)

    def _measured(self, angle: float) -> None:
        if why := pieces.not_so(self._piece, angle):
            self._refuse(why)
            return
        taken = f"measured {angle:g}"
        self._step(taken)
        self._judge(pieces.measured(self._piece, angle, self._model), taken)

    def _next(self) -> None:
        verdict = self._piece.verdict
        past = self._track.phase == "holding" and self._guide.cue in ("stop", "over")
        if verdict is not None and verdict.verdict == "again":
            self._new_hit("next")
        elif verdict is not None:
            self._finish_bend("next")
        elif past or (self._track.phase in ("bending", "holding") and self._pumped_unseen):
            self._release()
        else:
            self._refuse("'next' does what a verdict says; none stands now")

    def _bite(self) -> None:
        if not self._task.bites:
            self._refuse("this bender takes no bites; bench.yaml says so (arm: bites)")
        elif self._track.phase not in ("bending", "holding"):
            self._refuse("'bite' is for a loaded tube; pump first")
        else:
            self._mark(Bite())

    def _skip(self) -> None:
        if self._track.in_hit:
            self._refuse("'skip' is for between hits; release the tube first")
            return
        if self._piece.hits and self._piece.verdict is None:
            # Bent it is, if not as far as the press again would have: its verdict stands.
            self._piece = self._steps.pop().piece
        self._finish_bend("skip")

    def _undo(self) -> None:
        if self._track.in_hit:
            self._refuse("'undo' is for between hits; release the tube first")
        elif self._steps:
            self._take_back(self._steps.pop())
        else:
            self._refuse("there is nothing to undo")

    def _step(self, what: str) -> None:
        """Keep how all stands: what comes now can be taken back."""
        self._steps.append(
            Step(
                what,
                self._piece,
                self._model,
                self._before,
                self._course,
                self._track.zero,
                self._trace,
            )
        )

    def _take_back(self, step: Step) -> None:
        """Go back to how all stood before the step; the log gets a new row where it differs."""
        was, piece = self._piece, step.piece
        if was.index == piece.index:
            if was.record is not None and not piece.hits:
                self._withdraw()
            if piece.record is None:
                piece = replace(piece, bend_id=self._piece.bend_id)
        self._piece, self._model, self._before = piece, step.model, step.before
        self._course, self._trace = step.course, step.trace
        self._track = mark(self._track, self._back_at(step))
        self._guide = Guide()
        self._trace.begin(self._track, self._guide, piece.wanted, anew=not piece.hits)
        told = "" if piece.hits else self._first_advice()
        self._tell_target(told, tell.undone(step.what, piece))
        if piece.verdict is not None:
            self._out.append(tell.verdict(piece))
        if piece.record is not None and (was.index != piece.index or was.hits != piece.hits):
            self._log()

    def _back_at(self, step: Step) -> Mark:
        """Give the mark that brings the tracker to where the step left from."""
        hits = step.piece.hits
        rest = hits[-1].rest if hits else None
        if step.piece.verdict is not None:
            stands = self._track.arm + self._track.zero - step.zero
            return Stood(step.zero, stands if rest is None else rest)
        if step.what.startswith("hit"):
            return SameHit(rest or 0.0, first=not hits)
        return NewBend()

    # Bends and hits

    def _start_bend(self, index: int) -> None:
        self._course, self._piece = self._begin(index)
        self._track = mark(self._track, NewBend())
        self._guide = Guide()
        # The bend before keeps its own trace: it may be gone back to.
        self._trace = Recorder()
        self._trace.begin(self._track, self._guide, self._piece.wanted, anew=True)
        self._tell_first_target()

    def _begin(self, index: int) -> tuple[Course, Piece]:
        way = self._way()
        angle = way.places[index].angle_deg if way.places else None
        return way, pieces.begin(self._task, self._model, index, self._new_id(), angle)

    def _way(self) -> Course:
        """Give the way that is left; where none can be planned, the one before with why."""
        done = [piece for _, piece in self._before]
        try:
            return course(self._carry_on, done, self._task.first_bend - 1, self._model)
        except Refusal as refusal:
            return self._course._replace(told=(f"nothing is planned anew: {refusal}",))

    def _place(self, command: stream.Command) -> None:
        """Take a turn, a mark or a distance across the part that a person measured."""
        piece, advice = self._piece, ""
        try:
            match command:
                case stream.Command("turned", (turn,)):
                    piece = replace(piece, turn_deg=turn)
                case stream.Command("marked", (mark,)):
                    start = self._course.start_of(piece.index, mark)
                    piece = replace(piece, start_mm=start)
                case stream.Command("taped", (one, other, measured)):
                    taped = Distance(one=int(one), other=int(other), measured_mm=measured)
                    self._course.refuse_longer(taped)
                    piece = replace(piece, distances=(*piece.distances, taped))
                    advice = self._with(piece).doubt
        except Refusal as refusal:
            self._refuse(str(refusal))
            return
        taken = " ".join([command.word, *(f"{number:g}" for number in command.numbers)])
        self._step(taken)
        self._piece = piece
        self._out.append(tell.verdict(piece, taken, advice))

    def _with(self, piece: Piece) -> Course:
        """Plan on with the piece as it is once, so that what can't be is refused when it is said.

        Raises Refusal.
        """
        done = [*(piece for _, piece in self._before), piece]
        return course(self._carry_on, done, self._task.first_bend - 1, self._model)

    def _finish_bend(self, what: str) -> None:
        self._step(what)
        self._before = (*self._before, (self._model, self._piece))
        self._model = pieces.taught(self._piece, self._task, self._model)
        if self._piece.number < len(self._task.bend_angles):
            self._start_bend(self._piece.index + 1)
        else:
            self._piece = replace(self._piece, verdict=None)
            self._track = mark(self._track, NewBend())
            self._ending = True

    def _new_hit(self, what: str) -> None:
        self._step(what)
        self._piece = pieces.next_hit(self._piece, self._model)
        self._mark(NewHit())
        self._tell_hit()

    def _tell_hit(self) -> None:
        self._guide = Guide()
        self._trace.begin(self._track, self._guide, self._piece.wanted, anew=False)
        self._tell_target()

    def _mark(self, what: Mark) -> None:
        self._trace.mark(what)
        self._track = mark(self._track, what)

    # Faults and the log

    def _blind(self) -> bool:
        return any(what in self._faults for what in ("sensor", "bus", "alignment"))

    def _lose(self, lost: Lost) -> None:
        self._told_of = True
        if not self._blind():
            self._blind_since = lost.t
            self._mark(LostArm())
        if self._track.in_hit:
            self._faults_of_hit = (*self._faults_of_hit, f"{lost.what}: {lost.detail}")
        self._stand(lost.what, lost.detail)
        self._out.append(tell.blind(lost.t, self._phase()))
        self._told = None

    def _advise(self, advice: str) -> None:
        self._advice = advice
        if self._track.in_hit:
            self._note_advice()

    def _note_advice(self) -> None:
        note = f"supply: {self._advice}"
        if self._advice and note not in self._faults_of_hit:
            self._faults_of_hit = (*self._faults_of_hit, note)

    def _find(self) -> None:
        for what in [known for known in self._faults if known != "store"]:
            self._clear(what)
        self._mark(FoundArm())

    def _stand(self, what: stream.FaultWhat, detail: str) -> None:
        if self._faults.get(what) != detail:
            self._out.append(stream.Fault(what=what, detail=detail))
        self._faults[what] = detail

    def _clear(self, what: stream.FaultWhat) -> None:
        if self._faults.pop(what, None) is not None:
            self._out.append(stream.Cleared(what=what))

    def _refuse(self, detail: str) -> None:
        self._out.append(stream.Fault(what="command", detail=detail))

    def _log(self) -> None:
        record = pieces.row(self._piece, self._task, self._trace.packed())
        self._piece = replace(self._piece, record=record)
        self._write(record)

    def _withdraw(self) -> None:
        self._write(pieces.row(self._piece, self._task, self._trace.packed(), withdrawn=True))
        # What is bent here from now on is another bend in the log.
        self._piece = replace(self._piece, record=None, bend_id=self._new_id())

    def _write(self, record: BendRecord) -> None:
        self._out.append(self._keeping.send(record))

    def _written(self, durable: Durable) -> None:
        self._keeping.answered(durable.t, kept=not durable.failure)
        if durable.failure:
            self._stand("store", durable.failure)
            return
        again = self._keeping.all_again()
        if not self._keeping.waiting:
            self._clear("store")
        self._out.append(stream.Logged(id=durable.bend_id, bend=durable.bend))
        self._out.extend(again)

    def _hurry(self, t: float) -> None:
        """Give a hit in progress the time to be finished, then mark it."""
        if self._ending_since is None:
            self._ending_since = t
        until = self._ending_since + FINISH_S
        if self._blind():
            until = min(until, max(self._ending_since, self._blind_since) + LOST_S)
        if t < until:
            return
        track = self._track
        faults = (*self._faults_of_hit, "the program was ended in mid-hit")
        sure = track.sure and not self._blind()
        self._piece = pieces.broken_off(self._piece, track.peak, faults, sure=sure)
        self._log()
        self._track = mark(track, NewBend())

    # Telling

    def _phase(self) -> stream.Phase:
        if self._track.phase == "resting" and not (self._keeping.waiting or self.unkept):
            return "logged"
        return self._track.phase

    def _tell_reading(self, reading: Reading) -> None:
        unsaid = "store" in self._faults
        phase, cue = self._phase(), "wait" if unsaid else self._guide.cue
        if self._told is not None:
            last, last_phase, last_cue = self._told
            # Half a millisecond of grace: the clock's grain must not cost a reading.
            due = reading.t - last >= READING_EVERY_S - 0.0005
            if not due and phase == last_phase and cue == last_cue:
                return
        self._told = (reading.t, phase, cue)
        if unsaid:
            self._out.append(tell.blind(reading.t, phase))
            return
        stop_angle = self._piece.target.stop_angle
        self._out.append(
            tell.reading(reading, self._track, self._guide, phase, stop_angle, advice=self._advice)
        )

    def _tell_first_target(self) -> None:
        self._tell_target(self._first_advice())

    def _first_advice(self) -> str:
        return " ".join(filter(None, (self._task.caution, self._piece.target.advice)))

    def _tell_target(self, advice: str = "", undone: str = "") -> None:
        bends = len(self._task.bend_angles)
        self._out.append(tell.target(self._piece, self._course, bends, advice, undone))


_UNSEEN = (
    "The arm was not seen for a while, and a peak may be hidden. Is the pressure off, say next; "
    "else go on."
)
