"""A person at the pump, who knows what the plain stream says and what anyone there can see."""

from typing import Literal

from benchmate.sim.bench import SimBench
from benchmate.sim.draws import chance
from benchmate.stream import Cleared, Event, Fault, Reading, Target, Unfinished, Verdict

Protractor = Literal["never", "when asked", "always"]
Pumping = Literal["off", "pump", "slow", "stop"]

_BLINDING = ("sensor", "bus", "alignment")
_SETTLE_S = 0.8
"""From the hand standing still to opening the valve; as long again before zero is asked for."""
_THINK_S = 1.0
"""From a verdict to the answer."""
_FULL_STROKE_DEG = 5.0
"""Nobody takes a full stroke with less than this to go, whatever the cue."""
_WORTH_DEG = 0.1
"""A person fetches the protractor when it would take so much off the doubt."""
_PATIENCE_S = 4.0
"""After so long zero is asked for again, or the pressure said to be off."""


class Operator:
    """A simulated person: hears events, moves the bench's pump and valve, says commands.

    ``reaction_s`` passes from every change of cue to the hand; the place at which the hand comes to
    stand misses what the cue meant by ``stop_sd_deg``.
    """

    def __init__(
        self,
        world: SimBench,
        seed: int = 0,
        *,
        reaction_s: float = 0.25,
        stop_sd_deg: float = 0.25,
        stop_mean_deg: float = 0.0,
        protractor: Protractor = "when asked",
    ) -> None:
        self._world = world
        self._seed = seed
        self._reaction_s = reaction_s
        self._stop_mean_deg, self._stop_sd_deg = stop_mean_deg, stop_sd_deg
        self._protractor = protractor
        self._bend = 0
        self._tube = (0, 0)
        """Number of the tube, and how many were scrap before it."""
        self._hits = 0
        self._wanted: Pumping = "off"
        self._wanted_since = 0.0
        self._hand: Pumping = "off"
        self._stopped_at: float | None = None
        """When the hand stopped at the end of the hit; None until then."""
        self._opened_at: float | None = None
        """When the valve was opened, or the person last said that the pressure is off."""
        self._blind = False
        """The arm is not known: the pressure stays on, so that its peak is seen afterwards."""
        self._loaded = False
        """The screen still shows the tube under load."""
        self._zero_due: float | None = None
        self._verdict: Verdict | None = None
        self._verdict_at = 0.0
        self._measured = False
        self._bite: Literal["none", "holding", "going back"] = "none"
        self._bite_at = 0.0
        self._place_due = False
        self._asked = False
        """Whether to go on with an unfinished part is asked."""
        self._miss_deg = 0.0

    def hear(self, event: Event, now: float) -> None:
        """Take one event of the stream at the time now [s]."""
        match event:
            case Unfinished():
                self._asked = True
            case Target():
                self._take_target(event)
            case Reading():
                self._take_reading(event, now)
            case Verdict():
                self._verdict, self._verdict_at = event, now
            case Fault(what=what) if what in _BLINDING:
                self._blind = True
                self._want("off", now)
            case Cleared(what=what) if what in _BLINDING:
                self._blind = False
            case _:
                pass

    def act(self, now: float) -> tuple[str, ...]:
        """Do what is due at the time now [s]; give the commands that the person sends."""
        if self._asked:
            self._asked = False
            return ("go_on",)
        if self._place_due:
            self._place_due = False
            self._world.next_place()
        if self._bite != "none" or self._ram_stalls():
            return self._take_bite(now)
        self._move_hand(now)
        return (*self._zero(now), *self._answer(now), *self._insist(now))

    def _take_target(self, target: Target) -> None:
        tube = (target.tube, target.scrapped)
        if self._bend and tube == self._tube and target.bend != self._bend:
            self._place_due = True
        self._bend, self._tube = target.bend, tube
        self._hits += 1
        self._verdict, self._measured = None, False
        self._stopped_at = self._opened_at = None
        draw = chance(self._seed, "miss", self._hits).standard_normal()
        self._miss_deg = self._stop_mean_deg + self._stop_sd_deg * float(draw)

    def _take_reading(self, reading: Reading, now: float) -> None:
        if reading.phase == "zeroing":
            if self._zero_due is None:
                self._zero_due = now + _SETTLE_S
        else:
            self._zero_due = None
        self._loaded = reading.phase in ("bending", "holding")
        if reading.phase == "ready" and self._opened_at is not None:
            # Nothing was bent, or one more hit: the same hand starts afresh.
            self._stopped_at = self._opened_at = None
        self._want(self._meant(reading), now)

    def _meant(self, reading: Reading) -> Pumping:
        if self._stopped_at is not None:
            return "stop"
        match reading.cue:
            case "stop" | "over":
                return "stop"
            case "pump" | "slow" if self._stops_early(reading):
                return "stop"
            case "pump" if (reading.to_go or 0.0) > _FULL_STROKE_DEG:
                return "pump"
            case "pump" | "slow":
                return "slow"
            case _:
                return "off"

    def _stops_early(self, reading: Reading) -> bool:
        """Say whether a person whose hand falls short this time already stops."""
        if reading.to_go is None or self._miss_deg >= 0.0:
            return False
        coming = max(reading.rate or 0.0, 0.0) * self._reaction_s
        return reading.to_go - coming <= -self._miss_deg

    def _want(self, hand: Pumping, now: float) -> None:
        if hand != self._wanted:
            self._wanted, self._wanted_since = hand, now

    def _move_hand(self, now: float) -> None:
        if self._wanted != self._hand and now - self._wanted_since >= self._reaction_s:
            self._hand = self._wanted
            match self._hand:
                case "pump" | "slow":
                    self._world.pace = "normal" if self._hand == "pump" else "slow"
                    self._world.pump(on=True)
                case "stop":
                    self._world.pump(on=False, push_deg=max(self._miss_deg, 0.0))
                    self._stopped_at = now
                case "off":
                    self._world.pump(on=False)
        stopped = self._stopped_at
        if stopped is None or self._opened_at is not None or self._blind:
            return
        if now - stopped >= _SETTLE_S:
            self._world.open_valve()
            self._opened_at = now

    def _zero(self, now: float) -> tuple[str, ...]:
        if self._zero_due is None or now < self._zero_due or not self._world.standing:
            return ()
        self._zero_due = now + _PATIENCE_S
        return ("zero",)

    def _answer(self, now: float) -> tuple[str, ...]:
        verdict = self._verdict
        if verdict is None or now - self._verdict_at < _THINK_S or not self._world.standing:
            return ()
        if verdict.say == "again" and self._zero_due is not None:
            # A tube that was bent before a stop is zeroed first.
            return ()
        self._verdict = None
        asked = verdict.say == "measure" or verdict.worth >= _WORTH_DEG
        if not self._measured and (
            self._protractor == "always" or (self._protractor == "when asked" and asked)
        ):
            self._measured = True
            return (f"measured {self._world.measure():.1f}",)
        return ("next",)

    def _insist(self, now: float) -> tuple[str, ...]:
        """Say that the pressure is off when the screen goes on showing a loaded tube."""
        opened = self._opened_at
        if opened is None or not self._loaded or now - opened < _PATIENCE_S:
            return ()
        self._opened_at = now
        return ("next",)

    def _ram_stalls(self) -> bool:
        return self._hand in ("pump", "slow") and self._world.ram_out

    def _take_bite(self, now: float) -> tuple[str, ...]:
        """Latch, say so, set the pin in the next hole, say so, and go on by the cue."""
        match self._bite:
            case "none":
                self._world.pump(on=False)
                self._hand = "off"
                self._bite, self._bite_at = "holding", now
                return ()
            case "holding":
                if now - self._bite_at < _SETTLE_S:
                    return ()
                self._world.take_bite()
                self._bite, self._bite_at = "going back", now
                return ("bite",)
            case "going back":
                if not self._world.standing:
                    self._bite_at = now
                if now - self._bite_at < _SETTLE_S:
                    return ()
                self._bite = "none"
                return ("bite",)
