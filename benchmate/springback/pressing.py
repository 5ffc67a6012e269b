"""One piece at the bender: what is believed of it after its hits, and what to do next."""

from dataclasses import dataclass

from benchmate.springback import advice
from benchmate.springback.aim import NextPress, Wanted, judge_piece, worth_of_reading
from benchmate.springback.bend import Aim, Hit, Verdict
from benchmate.springback.gain import risen_in_vain, stood_still
from benchmate.springback.knowledge import Knowledge
from benchmate.springback.mixture import Mixture
from benchmate.springback.noise import ARM_SD
from benchmate.springback.piece import PieceBelief, judge, next_press, presses, unbent
from benchmate.springback.prior import Setup
from benchmate.springback.stopping import NextStop

_STOPS_SEEN = 8
"""Stops on one piece that its next stop angle is led by; more say nothing new."""
_WORTH_PUMPING_DEG = 0.3
"""After many presses, or some in vain, one that will hardly go further is not asked for."""
_MANY_PRESSES = 4


@dataclass(frozen=True, slots=True)
class AtBender:
    """A setup, what is known, and what a piece of it is to become."""

    setup: Setup
    knowledge: Knowledge
    wanted: Wanted
    arm_sd: float | None

    def first(self) -> Aim:
        """Aim the first press."""
        press = self._press((), self._before(), self._stopping(()))
        stop = press.stop(self.wanted)
        after = press.after(stop)
        return Aim(
            verdict="again",
            stop_angle=stop,
            sd=after.spread,
            bend_angle=0.0,
            stop_sd=after.spread,
            over_angle=press.over_angle(self.wanted),
            expected=max(after.centre, 0.0),
            advice=advice.before_first(after, self.knowledge.stopping.sd, self.wanted),
        )

    def judged(self, hits: tuple[Hit, ...]) -> Aim:
        """Judge the piece after its hits, and aim the next press."""
        wanted, piece = self.wanted, self._after(hits)
        now = Mixture.of(piece.chance, piece.angle, piece.angle_sd)
        press = self._press(hits, piece, self._stopping(hits))
        stop = press.stop(wanted)
        after = press.after(stop)
        wrong = piece.last_misread > 0.5
        read = piece.read and not wrong
        follows = self.setup.bench.arm.follows_tube
        vain = risen_in_vain(hits, rests_count=follows)
        verdict: Verdict = "measure"
        if read or (follows and not wrong):
            verdict = judge_piece(now, after, wanted, gains=stop > press.passed, read=read)
        if verdict == "again" and self._no_use(press.rise(stop), vain, len(hits)):
            verdict = "accept" if now.between(wanted.low, wanted.high) > 0.5 else "measure"
        return Aim(
            verdict=verdict,
            stop_angle=stop,
            sd=now.spread,
            bend_angle=max(now.centre, 0.0),
            stop_sd=after.spread,
            over_angle=press.over_angle(wanted),
            expected=max(after.centre, 0.0),
            worth=0.0 if read else worth_of_reading(now, wanted, verdict),
            advice=advice.after_press(verdict, now, wanted, piece, vain),
        )

    @staticmethod
    def _no_use(rise: float, vain: float | None, presses_made: int) -> bool:
        """Say whether a press that will likely go ``rise`` further isn't worth pumping."""
        if vain is not None and stood_still(vain):
            return True
        return rise < _WORTH_PUMPING_DEG and (vain is not None or presses_made >= _MANY_PRESSES)

    def _stopping(self, hits: tuple[Hit, ...]) -> NextStop:
        """Give where the person will stop past the cue, by habit and by the stops on this piece.

        Each earlier stop angle is had by aiming anew on the hits before it.
        """
        errors: list[float] = []
        usual = self.knowledge.stopping
        if len(hits) < 2:
            return usual.next_on_piece(errors)
        for count, hit in enumerate(hits[:_STOPS_SEEN]):
            before = hits[:count]
            piece = self._after(before) if before else self._before()
            stop = self._press(before, piece, usual.next_on_piece(errors)).stop(self.wanted)
            errors.append(hit.peak - stop)
        return usual.next_on_piece(errors)

    def _before(self) -> PieceBelief:
        mean, cov = self.knowledge.of(self.setup)
        return unbent(self.setup, mean, cov, self.knowledge.scales, self.wanted.bend_angle)

    def _after(self, hits: tuple[Hit, ...]) -> PieceBelief:
        mean, cov = self.knowledge.of(self.setup)
        made = presses(hits, arm_sd=self.arm_sd, rests_count=self.setup.bench.arm.follows_tube)
        return judge(self.setup, mean, cov, self.knowledge.scales, made)

    def _press(self, hits: tuple[Hit, ...], piece: PieceBelief, stopping: NextStop) -> NextPress:
        mean, _ = self.knowledge.of(self.setup)
        stop_var = stopping.sd**2 + (ARM_SD if self.arm_sd is None else self.arm_sd) ** 2
        offset, slope, sd = next_press(self.setup, mean, piece, self.wanted.bend_angle, stop_var)
        passed = max((hit.peak for hit in hits), default=0.0)
        return NextPress(Mixture.of(piece.chance, offset, sd), slope, stopping.mean, passed)
