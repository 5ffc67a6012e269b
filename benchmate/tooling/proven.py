"""What a die has carried, what a job asks beside it, and the tubes that lead there step by step."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Literal, NamedTuple

from benchmate.shop.parts import Die, Tube
from benchmate.shop.tooling import Material
from benchmate.tooling.limits import Limit, limits_of
from benchmate.tooling.load import Load, Share, load_of

DieState = Literal["proven", "past proven", "past a limit", "unknown"]

STEP = 0.25
"""How far past what it has carried a die may be asked without a yes."""
SAME = 0.05
"""Within this share two loads are the same: tube strays more within a lot. Our own choice."""


class LoadCarried(NamedTuple):
    """One tube that a die has bent without complaint."""

    tube: Tube
    lot: str
    bends: int
    load: Load
    last_seq: int
    """The newest such bend of the log."""


class LoadAsked(NamedTuple):
    """A job's load beside what the die has proven."""

    load: Load
    proven: LoadCarried | None
    limits: tuple[Limit, ...]
    learned_ratio: float | None = None
    """The same ratio by what the steels' springback has taught of their moments."""

    @property
    def ratio(self) -> float | None:
        """Give the job's moment over the largest that was carried; None: nothing was."""
        return None if self.proven is None else self.load.moment_nmm / self.proven.load.moment_nmm

    @property
    def state(self) -> DieState:
        """Give the state in one word of four."""
        return state_of(self.ratio, self.limits)

    def asks(self, step: float = STEP) -> bool:
        """Say whether the person should say yes first: past proven by more than the step."""
        if self.state == "past a limit":
            return True
        return any(
            ratio is not None and ratio > 1 + step for ratio in (self.ratio, self.learned_ratio)
        )


class Rung(NamedTuple):
    """One tube of a ladder: bend it, look, then go on."""

    tube: Tube
    moment_nmm: float
    over: float
    """Its moment over what was carried before it."""


def state_of(ratio: float | None, limits: Iterable[Limit]) -> DieState:
    """Give the state of a die for a load: the limits go before what it has carried."""
    if any(limit.ratio > 1 for limit in limits):
        return "past a limit"
    if ratio is None:
        return "unknown"
    return "proven" if ratio <= 1 + SAME else "past proven"


def largest(carried: Iterable[LoadCarried]) -> LoadCarried | None:
    """Give the tube of the greatest moment among those carried; None when nothing was."""
    return max(carried, key=lambda each: each.load.moment_nmm, default=None)


def asked(
    die: Die,
    tube: Tube,
    angle_deg: float,
    carried: Sequence[LoadCarried],
    materials: Mapping[str, Material],
    *,
    share_of: Callable[[Tube, str], Share] = lambda *_: Share(1.0, 0.0),
    lot: str = "",
) -> LoadAsked:
    """Hold a job's load against what the die has carried and what its parts bear.

    ``share_of`` gives what is believed of the moment of a tube and lot over its written one.
    """
    load = load_of(die, tube, angle_deg)
    most = max(
        (each.load.moment_nmm * share_of(each.tube, each.lot).mean for each in carried), default=0.0
    )
    learned = load.moment_nmm * share_of(tube, lot).mean / most if most > 0 else None
    return LoadAsked(load, largest(carried), limits_of(die, load, materials), learned)


def ladder(
    die: Die,
    tube: Tube,
    rack: Iterable[Tube],
    proven_nmm: float,
    step: float = STEP,
) -> tuple[Rung, ...]:
    """Give tubes of the rack that lead from what is proven to this one, in rising order.

    ``rack`` holds tubes that fit the die.

    Each is the largest that stays within the step of the one before; where the rack has none, the
    next larger one follows all the same, and its ``over`` says by how much it is too far.
    """
    wanted = load_of(die, tube, 1.0).moment_nmm
    between = sorted(
        ((load_of(die, each, 1.0).moment_nmm, each.tube, each) for each in rack if each != tube),
        key=lambda found: found[:2],
    )
    rungs: list[Rung] = []
    now = proven_nmm
    while wanted > now * (1 + step):
        above = [found for found in between if now * (1 + SAME) < found[0] < wanted]
        if not above:
            break
        within = [found for found in above if found[0] <= now * (1 + step)]
        moment, _, rung = within[-1] if within else above[0]
        rungs.append(Rung(rung, moment, moment / now))
        now = moment
    return (*rungs, Rung(tube, wanted, wanted / now))


def look_at(die: Die) -> tuple[str, ...]:
    """Say what to look at after each tube of a ladder, by how the die is made."""
    looks = ["the groove's width with callipers at start, middle and end of the arc"]
    if die.bolts:
        looks.append(
            "the bolts: re-torque, and look whether a mark across head and plate has moved"
        )
    if die.plates is not None:
        looks.append("light between plates and core")
    looks.append("cracks at bolt holes and along the groove's edges")
    return tuple(looks)
