"""One piece at the bender: what is believed of it after its hits, and what to do next."""

from dataclasses import dataclass

import numpy as np

from benchmate.springback import advice
from benchmate.springback.aim import NextPress, WantedAngle, judge_piece, worth_of_reading
from benchmate.springback.bend import Aim, Hit, VerdictWord
from benchmate.springback.gain import risen_in_vain, stood_still
from benchmate.springback.knowledge import Knowledge
from benchmate.springback.mixture import Mixture
from benchmate.springback.noise import ARM_SD
from benchmate.springback.piece import PieceBelief, first_press, judge, next_press, presses
from benchmate.springback.prior import Array, Setup
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
    wanted: WantedAngle
    arm_sd: float | None
    terms: tuple[Array, Array]
    """What is known of the setup's six terms: mean and covariance."""

    @classmethod
    def of(
        cls, setup: Setup, knowledge: Knowledge, wanted: WantedAngle, arm_sd: float | None
    ) -> "AtBender":
        """Take the setup's terms from what is known."""
        return cls(setup, knowledge, wanted, arm_sd, knowledge.of(setup))

    def first(self) -> Aim:
        """Aim the first press."""
        press = self._press((), self.knowledge.stopping.next_on_piece(()))
        stop = press.stop(self.wanted)
        after = press.after(stop)
        sd = after.spread
        return Aim(
            verdict="again",
            stop_angle=stop,
            sd=sd,
            bend_angle=0.0,
            stop_sd=sd,
            over_angle=press.over_angle(self.wanted),
            expected=max(after.centre, 0.0),
            advice=advice.before_first(after, self.knowledge.stopping.sd, self.wanted),
        )

    def judged(self, hits: tuple[Hit, ...]) -> Aim:
        """Judge the piece after its hits, and aim the next press."""
        wanted, piece = self.wanted, self._after(hits)
        now = Mixture.of(piece.chance, piece.angle, piece.angle_sd)
        press = self._press(hits, self._stopping(hits), piece)
        stop = press.stop(wanted)
        after = press.after(stop)
        wrong = piece.last_misread > 0.5
        read = piece.read and not wrong
        follows = self.setup.bench.arm.follows_tube
        vain = risen_in_vain(hits, rests_count=follows)
        verdict: VerdictWord = "measure"
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
            press = self._press(hits[:count], usual.next_on_piece(errors))
            errors.append(hit.peak - press.stop(self.wanted))
        return usual.next_on_piece(errors)

    def _after(self, hits: tuple[Hit, ...]) -> PieceBelief:
        made = presses(hits, arm_sd=self.arm_sd, rests_count=self.setup.bench.arm.follows_tube)
        return judge(self.setup, *self.terms, self.knowledge.scales, made)

    def _press(
        self, hits: tuple[Hit, ...], stopping: NextStop, piece: PieceBelief | None = None
    ) -> NextPress:
        """Say what the press after these hits would leave; ``piece`` where it is judged already."""
        mean, cov = self.terms
        stop_var = stopping.sd**2 + (ARM_SD if self.arm_sd is None else self.arm_sd) ** 2
        angle, passed = self.wanted.bend_angle, max((hit.peak for hit in hits), default=0.0)
        if not hits:
            offset, slope, sd = first_press(self.setup, mean, cov, angle, stop_var)
            chance, offsets = self.knowledge.scales, np.full(len(sd), offset)
        else:
            piece = piece or self._after(hits)
            chance = piece.chance
            offsets, slope, sd = next_press(self.setup, mean, piece, angle, stop_var)
        return NextPress(Mixture.of(chance, offsets, sd), slope, stopping.mean, passed)
