"""Trial pieces in the store: what was measured of each die, tube by tube, and what it showed."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import msgspec

from benchmate.layout.parameters import TrialFound, UncertainValue
from benchmate.layout.trial_fit import Accuracy, TrialAnswer, TrialPiece
from benchmate.shop.parts import Die, Tube
from benchmate.tooling.trials import Trial

if TYPE_CHECKING:
    from benchmate.store import Log, Store

KIND = "trial"


@dataclass(frozen=True, slots=True, kw_only=True)
class _OfTube:
    """What one tube's pieces showed."""

    pieces: tuple[TrialPiece, ...]
    accuracy: Accuracy
    start_offset_mm: UncertainValue
    free_radius_mm: UncertainValue
    die_radius_mm: float
    stretch: UncertainValue | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    """The payload of a die's finding."""

    centreline_radius_mm: float
    """As drawn when the pieces were bent: a die made anew is another die."""
    latest: str
    """The tube measured last."""
    tubes: dict[str, _OfTube]


def found_for(log: "Log", die: Die, tube: Tube) -> TrialFound | None:
    """Give what trial pieces showed of a die: the tube's own, else the latest tube's."""
    kept = _kept(log, die)
    if kept is None:
        return None
    name = tube.tube if tube.tube in kept.tubes else kept.latest
    of_tube = kept.tubes[name]
    return TrialFound(
        die=die.die,
        tube=name,
        start_offset_mm=of_tube.start_offset_mm,
        free_radius_mm=of_tube.free_radius_mm,
        die_radius_mm=of_tube.die_radius_mm,
        stretch=of_tube.stretch,
    )


def trials_of(log: "Log", die: Die) -> tuple[Trial, ...]:
    """Give what trial pieces had shown of a die each time that some were measured, oldest first."""
    trials = []
    for entry in log.entries(KIND, die.die):
        kept = _read(entry.payload, die)
        if kept is None:
            continue
        of_tube = kept.tubes[kept.latest]
        offset, radius = of_tube.start_offset_mm, of_tube.free_radius_mm
        trials.append(
            Trial(entry.wall_s, kept.latest, offset.value, offset.u, radius.value, radius.u)
        )
    return tuple(trials)


def pieces_of(log: "Log", die: Die, tube: Tube) -> tuple[TrialPiece, ...]:
    """Give the pieces kept of this die and tube, oldest first."""
    kept = _kept(log, die)
    if kept is None or tube.tube not in kept.tubes:
        return ()
    return kept.tubes[tube.tube].pieces


def keep(
    store: "Store",
    log: "Log",
    setup: tuple[Die, Tube],
    pieces: Sequence[TrialPiece],
    shown: tuple[TrialAnswer, Accuracy, float],
) -> None:
    """Keep a tube's pieces and what they showed; the die's other tubes stay as they are.

    ``shown`` is the answer, the accuracy that it was worked out with, and the ratio of the radius
    after springback to the die's own that the model expects. Failure when the store can't keep it.
    """
    (die, tube), (answer, accuracy, opened) = setup, shown
    kept = _kept(log, die)
    of_tube = _OfTube(
        pieces=tuple(pieces),
        accuracy=accuracy,
        start_offset_mm=answer.start_offset_mm,
        free_radius_mm=answer.free_radius_mm,
        die_radius_mm=answer.free_radius_mm.value / opened,
        stretch=answer.stretch,
    )
    payload: dict[str, Any] = asdict(
        _Kept(
            centreline_radius_mm=die.centreline_radius_mm,
            latest=tube.tube,
            tubes={**(kept.tubes if kept else {}), tube.tube: of_tube},
        )
    )
    store.keep(KIND, die.die, payload).result()


def _kept(log: "Log", die: Die) -> _Kept | None:
    payload = log.finding(KIND, die.die)
    return None if payload is None else _read(payload, die)


def _read(payload: dict[str, Any], die: Die) -> _Kept | None:
    try:
        kept = msgspec.convert(payload, _Kept)
    except msgspec.ValidationError:
        # Kept by a later program in another form: the drawing still holds.
        return None
    same = abs(kept.centreline_radius_mm - die.centreline_radius_mm) < 1e-6
    return kept if same and kept.latest in kept.tubes else None
