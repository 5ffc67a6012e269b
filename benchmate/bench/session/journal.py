"""The journal of a run: what was done at the bender, as it is kept and read back. Pure.

Folding a run's entries in order gives the state that the run is in; nothing else is needed for it.
"""

from typing import TypeAlias

import msgspec

from benchmate.errors import Refusal


class _Entry(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind"):
    """Ground of every entry: frozen, tagged with its kind."""


class ZeroTaken(_Entry, frozen=True, tag="zero"):
    """The arm's zero was taken."""

    at: float = 0.0
    """Arm angle that the arm was taken to stand at: 0, or its rest on a tube bent before [deg]."""


class HitBegun(_Entry, frozen=True, tag="begun"):
    """The tube is being bent: what follows of this hit may be lost."""


class BentNothing(_Entry, frozen=True, tag="nothing"):
    """The arm came back to zero: the hit bent nothing."""


class HitMade(_Entry, frozen=True, tag="hit"):
    """The arm came to rest after a release. Degrees of arm angle."""

    peak: float
    rest: float | None
    """None: the arm retracts by itself."""
    sure: bool = True
    """False: a fault may have hidden a higher peak."""
    sd: float = 0.0
    """Standard deviation of peak and rest by the sensor's own account."""
    faults: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


class HitBroken(_Entry, frozen=True, tag="broken"):
    """The program was ended in the middle of a hit."""

    peak: float
    sure: bool
    faults: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


class AngleMeasured(_Entry, frozen=True, tag="measured"):
    """A person measured the tube's bend angle after the last hit [deg]."""

    angle: float


class TurnMeasured(_Entry, frozen=True, tag="turned"):
    """A person measured the turn before this bend [deg]."""

    turn: float


class MarkMeasured(_Entry, frozen=True, tag="marked"):
    """A person measured where this bend's mark really is [mm]."""

    mark: float


class DistanceMeasured(_Entry, frozen=True, tag="taped"):
    """A person measured between two points of the part [mm]."""

    one: int
    other: int
    distance: float


class WentOn(_Entry, frozen=True, tag="next"):
    """On to the next bend, as the verdict said."""


class PressedAgain(_Entry, frozen=True, tag="again"):
    """One more hit on this bend."""

    word: str = "again"
    """What asked for it: "next" or "again"."""


class Skipped(_Entry, frozen=True, tag="skip"):
    """On to the next bend, leaving this one as it is."""


class TakenBack(_Entry, frozen=True, tag="undo"):
    """The last step was taken back."""


class Resumed(_Entry, frozen=True, tag="resumed"):
    """The run was gone on with after the program had stopped."""


class Finished(_Entry, frozen=True, tag="finished"):
    """The last bend is done."""


class Dropped(_Entry, frozen=True, tag="dropped"):
    """A new part was begun in this one's place."""


Entry: TypeAlias = (
    ZeroTaken
    | HitBegun
    | BentNothing
    | HitMade
    | HitBroken
    | AngleMeasured
    | TurnMeasured
    | MarkMeasured
    | DistanceMeasured
    | WentOn
    | PressedAgain
    | Skipped
    | TakenBack
    | Resumed
    | Finished
    | Dropped
)


def written(entry: Entry) -> tuple[str, dict[str, object]]:
    """Give an entry's kind and its content as plain data."""
    plain: dict[str, object] = msgspec.to_builtins(entry)
    return str(plain.pop("kind")), plain


def read(kind: str, content: dict[str, object]) -> Entry:
    """Give back what ``written`` wrote; Refusal for what no benchmate of this version wrote."""
    try:
        entry: Entry = msgspec.convert({"kind": kind, **content}, Entry)
    except msgspec.ValidationError as error:
        raise Refusal(
            f"the run's journal holds an entry of kind '{kind}' that can't be read ({error}); "
            "begin a new part, or take the newer benchmate that wrote it"
        ) from error
    return entry


def bent_something(entry: Entry) -> bool:
    """Say whether after this entry the tube is no longer as it was marked."""
    return isinstance(entry, HitBegun | HitMade | HitBroken | Skipped)
