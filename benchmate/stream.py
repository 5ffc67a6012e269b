"""The plain stream: one JSON object a line out, one command a line in.

The bench process writes it; the screen, a script and a screen reader are its equal clients. Names
and keys here are a contract: keys may be added, those listed keep their meaning.
"""

import json
from collections.abc import Iterator
from typing import IO, Literal, TypeAlias

import msgspec

from benchmate.errors import Refusal

Phase = Literal["zeroing", "ready", "bending", "holding", "releasing", "resting", "logged"]
Cue = Literal["wait", "pump", "slow", "stop", "release", "over"]
Say = Literal["accept", "again", "over", "measure"]
FaultWhat = Literal["sensor", "bus", "alignment", "store", "signals", "command"]
BLINDING: tuple[FaultWhat, ...] = ("sensor", "bus", "alignment", "store")
"""While one of these stands there is no arm angle and no cue. "signals" (a buzzer, lamp or switch
that can't be had) and "command" take nothing from the angle."""


class _Event(msgspec.Struct, frozen=True, tag_field="event", tag=str.lower):
    """Ground of every event: frozen, tagged with its name."""


class Unfinished(_Event, frozen=True, kw_only=True):
    """A part was begun and not finished: said before any target. ``go_on`` or ``new`` answers."""

    run: str
    bend: int
    """The bend at hand, from 1."""
    hits: int
    """Hits made of it."""
    arm: float | None
    """Arm angle at which the arm stands on the tube as it is bent now; null where nobody knows."""
    hours: float
    """Since it was last worked on, as far as this machine's clock can tell."""
    job_changed: bool
    """The job's file says something else now."""
    in_hit: bool = False
    """The program stopped in the middle of a hit: how far the tube is bent is not known."""


class Target(_Event, frozen=True, kw_only=True):
    """What the next hit is to reach; ``sd`` is of the bend angle that stopping there gives."""

    bend: int
    hit: int
    bend_angle: float
    stop_angle: float
    sd: float
    tolerance: float
    bends: int
    """How many bends the job has."""
    over_angle: float
    """Arm angle past which the bend is more likely over tolerance than not."""
    advice: str = ""
    """One plain sentence when there is something to know before pumping, else empty."""
    mark: float | None = None
    """Where this bend's layout mark stands along the straight tube [mm]; None without a part."""
    turn: float | None = None
    """The turn before this bend [deg]."""
    changed: tuple[str, ...] = ()
    """What planning the part anew from what is bent has changed and why, a sentence each; before
    the first bend of a further tube, what is marked otherwise than on the tube before."""
    drawn_angle: float | None = None
    """The drawing's bend angle, where ``bend_angle`` is what planning anew made of it."""
    undone: str = ""
    """One plain sentence when this target is here because a step was taken back, else empty."""
    zero_at: float | None = None
    """Arm angle that zero is to be taken at: the rest of a tube that is bent already. None: 0."""
    tube: int = 1
    """Which of the job's tubes this is, counting those that came out good."""
    tubes: int = 1
    """How many of the part are to be made; 1 where the job counts none."""
    scrapped: int = 0
    """Tubes of this job that came out as scrap before this one."""


class Reading(_Event, frozen=True, kw_only=True):
    """The live arm. ``arm``, ``rate``, ``sd`` and ``to_go`` are null while a fault stands."""

    t: float
    arm: float | None
    rate: float | None
    sd: float | None
    to_go: float | None
    phase: Phase
    cue: Cue
    strokes: float | None = None
    """Pump strokes still to go at the pace of this hit, when that can be said."""
    stops: int | None = None
    """While the box is turned round: still stops found so far, and what they cover [deg]."""
    coverage: float | None = None
    advice: str = ""
    """One plain sentence while something wants looking after that doesn't spoil the angle."""


class Peak(_Event, frozen=True, kw_only=True):
    """The largest arm angle of the hit, written when the release is seen."""

    arm: float
    sure: bool = True
    """False when a fault may have hidden a larger one."""


class Rest(_Event, frozen=True, kw_only=True):
    """The arm standing on the relaxed tube; not written when the arm retracts by itself."""

    arm: float
    springback: float
    """Peak less rest; no more than the least that it can be when the peak was not ``sure``."""


class Verdict(_Event, frozen=True, kw_only=True):
    """What to do with the bend now; ``stop_angle`` stands only with "again"."""

    say: Say
    bend_angle: float
    sd: float
    stop_angle: float | None = None
    bend: int
    hits: int
    worth: float = 0.0
    """By how much a protractor reading now would shrink ``sd``; 0 when it wouldn't pay."""
    advice: str = ""
    """One plain sentence when there is something to know before going on, else empty."""
    taken: str = ""
    """The command that brought this verdict, as it was understood: "marked 251.5"; else empty."""


class Logged(_Event, frozen=True, kw_only=True):
    """The bend's row is durable. ``id`` is the bend's own and stays through corrections."""

    id: str
    bend: int


class Fault(_Event, frozen=True, kw_only=True):
    """Something is not to be trusted; ``detail`` is one line with cause and cure."""

    what: FaultWhat
    detail: str


class Cleared(_Event, frozen=True, kw_only=True):
    """The fault of that kind is over."""

    what: FaultWhat


class Aligned(_Event, frozen=True, kw_only=True):
    """The swing (or turn) was good and is kept."""

    residual_deg: float
    leverage: float
    sd: float | None = None
    """Of an angle at its worst over the working arc, for what averaging doesn't cure."""
    arc_deg: float | None = None
    """The working arc: how far from zero bends are thought to go."""
    warnings: tuple[str, ...] = ()
    """What to know of it, with the cure: one plain sentence each."""


class Foot(_Event, frozen=True, kw_only=True):
    """A press of the foot switch that the reader asked to be told of, and that did nothing else."""

    press: Literal["short", "long"]


class Watched(_Event, frozen=True, kw_only=True):
    """Said first to whoever looks on: which job is at this bench."""

    job: str
    simulated: bool
    bites: bool = False
    unit: Literal["mm", "in", "frac"] = "mm"
    shop: str = ""
    store: str = ""


class Done(_Event, frozen=True, kw_only=True):
    """All is done; the program ends with exit 0."""


Event: TypeAlias = (
    Unfinished
    | Target
    | Reading
    | Peak
    | Rest
    | Verdict
    | Logged
    | Fault
    | Cleared
    | Aligned
    | Foot
    | Watched
    | Done
)


def write_event(event: Event) -> str:
    """Give the event as one line of ASCII JSON, without the line's end.

    ``stop_angle`` of a verdict is left out when there is none. Numbers that are not finite are an
    error of the caller's: ValueError.
    """
    built: dict[str, object] = msgspec.to_builtins(event)
    if isinstance(event, Verdict) and event.stop_angle is None:
        del built["stop_angle"]
    return json.dumps(built, ensure_ascii=True, allow_nan=False)


def read_event(line: str) -> Event:
    """Read back what ``write_event`` wrote; unknown keys are passed over, no event is a Refusal."""
    try:
        event: Event = msgspec.json.decode(line, type=Event)
    except msgspec.DecodeError as error:
        raise Refusal(f"the stream holds a line that is no event ({error})") from error
    return event


class Command(msgspec.Struct, frozen=True):
    """One command: its word, and the numbers that some bring (degrees; "marked" and "taped" mm)."""

    word: str
    numbers: tuple[float, ...] = ()
    insists: bool = False
    """Said with an exclamation mark: take it, however odd it looks."""


BEND_COMMANDS = (
    *("zero", "next", "again", "measured", "bite", "skip", "undo", "quit"),
    *("turned", "marked", "taped", "go_on", "new", "scrap"),
    *("take_foot", "give_foot"),
)
SWING_COMMANDS = ("begin", "end", "quit")
TURN_COMMANDS = (*SWING_COMMANDS, "measured")
REHEARSAL_COMMANDS = ("pump", "release")
"""Heard only with a simulated bench: start or stop the pump's strokes; open the valve."""


LONGEST_LINE = 1000
"""Characters of a line of commands; no command takes a tenth of it."""


def lines_in(text: IO[str]) -> Iterator[str]:
    """Give the lines as they come, each cut where no command reaches to: none costs much."""
    while line := text.readline(LONGEST_LINE):
        rest = line
        while rest and not rest.endswith("\n"):
            rest = text.readline(LONGEST_LINE)
        yield line


_Span = tuple[float, float]
_NUMBERS: dict[str, tuple[tuple[_Span, ...], str]] = {
    "measured": (((0.0, 360.0),), "the bend angle in degrees, as in 'measured 89.5'"),
    "turned": (
        ((-180.0, 180.0),),
        "the turn before this bend in degrees, from -180 to 180, as in 'turned 89.5'",
    ),
    "marked": (((0.0, 1e5),), "where this bend's mark really is, in mm, as in 'marked 251.5'"),
    "taped": (
        ((1.0, 1e3), (1.0, 1e3), (0.0, 1e5)),
        "two points of the part and the mm between them, as in 'taped 1 3 512.5'",
    ),
}


def read_command(line: str, known: tuple[str, ...] = BEND_COMMANDS) -> Command:
    """Read a command line; Refusal says what was found and what would be right."""
    words = line.split()
    if not words or words[0] not in known:
        shown = line.strip()[:40].encode("unicode_escape").decode("ascii")
        raise Refusal(f"'{shown}' is no command here; the commands are {', '.join(known)}")
    word, *rest = words
    insists = word == "measured" and rest != [] and rest[-1].endswith("!")
    if insists:
        rest = [part for part in (*rest[:-1], rest[-1][:-1]) if part]
    if word not in _NUMBERS:
        if rest:
            raise Refusal(f"'{word}' takes nothing after it")
        return Command(word)
    spans, told = _NUMBERS[word]
    try:
        numbers = tuple(float(number) for number in rest)
    except ValueError:
        numbers = ()
    if word == "taped" and any(number != int(number) for number in numbers[:2]):
        numbers = ()
    if len(numbers) != len(spans) or not all(
        least <= number <= most for number, (least, most) in zip(numbers, spans, strict=True)
    ):
        raise Refusal(f"'{word}' takes {told}")
    return Command(word, numbers, insists)
