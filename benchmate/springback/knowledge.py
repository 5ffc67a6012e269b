"""Everything the bench has learned, as one normal belief over all benches, dies, steels and lots.

Learning is a fold: one bend after another, each a few small matrices' worth of work that doesn't
grow with the bends behind it, nor with the lots: what a lot taught of steels and dies stays, its
own term is set aside when many others have been bent since.
"""

import json
import math
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar

import numpy as np

from benchmate.errors import Failure
from benchmate.springback import noise
from benchmate.springback.bend import Bend
from benchmate.springback.piece import JUMP, PieceBelief, Press, judge, presses
from benchmate.springback.prior import (
    BOW,
    DIE,
    DRIFT_SD,
    LEGS,
    LOT,
    SLACK,
    STEEL,
    Array,
    Key,
    Setup,
)
from benchmate.springback.stopping import Stopping

LOTS_KEPT = 128
"""Lots that have a term of their own: those bent last."""
LOOSENED = 0.5
"""Standard deviations of a die that was taken apart, over those of a die never bent on."""
SETTLES_IN = 5
"""First bends on a printed core that count less: it is steady after about five strokes (Metals 11
(2021) 1256)."""
SETTLING = 0.15
"""How far a printed core may move from one of them to the next, over the standard deviation of one
never bent on: our own guess, wide enough to forget the first strokes."""
_OUTLIERS_KEPT = 50
_DOUBT_BELOW = 0.5
_SETTLES_AFTER = 8
_NO_STORY_FITS = 60.0
"""Square of the deviations past which a bend's readings teach nothing: no story explains them."""


@dataclass(frozen=True, slots=True)
class Outlier:
    """A bend that disagreed with everything known, kept at little weight."""

    number: int
    """Which bend of the fold it was, from 1."""
    name: str
    """What the log calls it."""
    die: str
    tube: str
    lot: str
    bend_angle: float
    weight: float
    """Chance that it is an ordinary bend of this setup."""
    off_deg: float
    """The tube's bend angle less what the setup would have given; of a wrong reading, how wrong."""
    off_sds: float
    """The same in standard deviations of an ordinary bend."""
    why: str
    """What may have happened."""


@dataclass(frozen=True, slots=True, eq=False)
class Knowledge:
    """The joint posterior over the terms of every setup learned from, with scatter and stopping."""

    VERSION: ClassVar[int] = 6

    keys: tuple[Key, ...] = ()
    mean: Array = field(default_factory=lambda: np.zeros(0))
    cov: Array = field(default_factory=lambda: np.zeros((0, 0)))
    scales: Array = field(default_factory=lambda: noise.SCALE_PRIOR)
    """Weight of each scale of piece scatter in ``noise.SCALES``."""
    stopping: Stopping = field(default_factory=Stopping)
    bends: int = 0
    counts: dict[Key, float] = field(default_factory=dict)
    """Bends behind each term, outliers by their weight."""
    outliers: tuple[Outlier, ...] = ()
    """The last ones only."""
    lots: tuple[Key, ...] = ()
    """The lots that have a term of their own, the one bent last at the end."""
    index: dict[Key, int] = field(default_factory=dict)
    settled: dict[Key, tuple[float, float]] = field(default_factory=dict)
    """Each die's slack and its standard deviation when it had settled in: drift is told from it."""

    def of(self, setup: Setup) -> tuple[Array, Array]:
        """Give mean (6,) and covariance (6, 6) of a setup's terms; the prior for those not met."""
        places = [self.index.get(key) for key in setup.keys]
        if None not in places:
            at = np.array(places)
            return self.mean[at], self.cov[at[:, None], at]
        mean, cov = setup.mean, np.diag(setup.sd**2)
        known = [term for term, place in enumerate(places) if place is not None]
        if known:
            at = np.array([places[term] for term in known])
            mean[known] = self.mean[at]
            cov[np.ix_(known, known)] = self.cov[at[:, None], at]
        return mean, cov

    def learn(self, setup: Setup, bend: Bend) -> "Knowledge":
        """Give the knowledge after one more bend of the setup."""
        follows = setup.bench.arm.follows_tube
        made = presses(bend.hits, bend.how_measured, bend.arm_sd, rests_count=follows)
        stopping = self.stopping
        for stop, hit in zip(bend.stop_angles, bend.hits, strict=False):
            stopping = stopping.learn(hit[0] - stop)
        if not any(press.rests or press.measured for press in made):
            return replace(self, stopping=stopping)
        known = self._with_room_for(setup.keys[LOT])._met(setup)
        return replace(known, stopping=stopping)._taught(setup, bend, made)

    def loosened(self, setup: Setup) -> "Knowledge":
        """Give the knowledge after something was done to the die: what is known of it counts less.

        The die's own terms get half the standard deviation of a die never bent on, their bends
        are counted anew, and drift is told from when it has settled in again.
        """
        keys = [key for key in setup.keys[:STEEL] if key in self.index]
        if not keys:
            return self
        cov = self.cov.copy()
        for term, key in enumerate(setup.keys[:STEEL]):
            if key in self.index:
                at = self.index[key]
                cov[at, at] += (LOOSENED * setup.sd[term]) ** 2
        return replace(
            self,
            cov=cov,
            counts=self.counts | dict.fromkeys(keys, 0.0),
            settled={key: then for key, then in self.settled.items() if key not in keys},
        )

    def dump(self) -> bytes:
        """Give the knowledge as bytes that ``load`` reads back bit for bit.

        A line of version-tagged JSON, then mean, scales and the covariance's lower rows as
        little-endian doubles.
        """
        plain = {
            "version": self.VERSION,
            "keys": self.keys,
            "stopping": [getattr(self.stopping, name) for name in Stopping.__slots__],
            "bends": self.bends,
            "counts": [self.counts.get(key, 0.0) for key in self.keys],
            "lots": [self.index[lot] for lot in self.lots],
            "settled": [[key, *pair] for key, pair in self.settled.items()],
            "outliers": [
                [getattr(outlier, name) for name in Outlier.__slots__] for outlier in self.outliers
            ],
        }
        lower = self.cov[np.tri(len(self.keys), dtype=bool)]
        numbers = np.concatenate((self.mean, self.scales, lower)).astype("<f8")
        return json.dumps(plain, allow_nan=False).encode("ascii") + b"\n" + numbers.tobytes()

    @classmethod
    def load(cls, dumped: bytes) -> "Knowledge":
        """Read what ``dump`` wrote; Failure when it is something else or of another version."""
        try:
            head, _, packed = dumped.partition(b"\n")
            plain: dict[str, Any] = json.loads(head)
            if plain["version"] != cls.VERSION:
                found = plain["version"]
                raise Failure(f"knowledge of version {found}, not {cls.VERSION}: fold the log anew")
            keys = tuple(map(tuple, plain["keys"]))
            numbers = np.frombuffer(packed, "<f8").astype(float)
            mean, scales, lower = np.split(numbers, [len(keys), len(keys) + len(noise.SCALES)])
            return cls(
                keys=keys,
                mean=mean,
                cov=_mirrored(lower, len(keys)),
                scales=scales,
                stopping=Stopping(*plain["stopping"]),
                bends=plain["bends"],
                counts=dict(zip(keys, plain["counts"], strict=True)),
                outliers=tuple(Outlier(*outlier) for outlier in plain["outliers"]),
                lots=tuple(keys[at] for at in plain["lots"]),
                index={key: at for at, key in enumerate(keys)},
                settled={tuple(key): (then, sd) for key, then, sd in plain["settled"]},
            )
        except (ValueError, TypeError, KeyError, AttributeError) as error:
            raise Failure(f"this is no knowledge of bends ({error}): fold the log anew") from error

    def _with_room_for(self, lot: Key) -> "Knowledge":
        """Give the knowledge with this lot as the last of ``lots``, the stalest one set aside.

        Taking a term out of a joint normal leaves the belief of all others as it was, exactly. A
        lot that comes back afterwards is a new lot of its steel.
        """
        lots = (*(each for each in self.lots if each != lot), lot)
        if len(lots) <= LOTS_KEPT:
            return replace(self, lots=lots)
        stale, *lots_left = lots
        at = self.index[stale]
        keys = self.keys[:at] + self.keys[at + 1 :]
        return replace(
            self,
            keys=keys,
            mean=np.delete(self.mean, at),
            cov=np.delete(np.delete(self.cov, at, axis=0), at, axis=1),
            counts={key: count for key, count in self.counts.items() if key != stale},
            lots=tuple(lots_left),
            index={key: place for place, key in enumerate(keys)},
        )

    def _met(self, setup: Setup) -> "Knowledge":
        """Give the knowledge with the setup's terms in it: new ones as the prior, old drifted."""
        new = [term for term, key in enumerate(setup.keys) if key not in self.index]
        keys = self.keys + tuple(setup.keys[term] for term in new)
        old, size = len(self.keys), len(keys)
        index = self.index
        if new:
            cov = np.zeros((size, size))
            cov[:old, :old] = self.cov
            cov[range(old, size), range(old, size)] = setup.sd[new] ** 2
            index = index | {key: old + at for at, key in enumerate(keys[old:])}
        else:
            cov = self.cov.copy()
        settling = setup.die.printed and self.counts.get(setup.keys[SLACK], 0.0) < SETTLES_IN
        for term in (SLACK, LEGS, DIE, BOW):
            if term not in new:
                at = index[setup.keys[term]]
                cov[at, at] += DRIFT_SD[term] ** 2
                if settling:
                    cov[at, at] += (SETTLING * setup.sd[term]) ** 2
        mean = np.append(self.mean, setup.mean[new])
        return replace(self, keys=keys, mean=mean, cov=cov, index=index)

    def _taught(self, setup: Setup, bend: Bend, made: list[Press]) -> "Knowledge":
        """Teach knowledge that ``_met`` has just made: its covariance is changed in place."""
        at = [self.index[key] for key in setup.keys]
        mean, cov = self.mean[at], self.cov[np.ix_(at, at)]
        piece = judge(setup, mean, cov, self.scales, made)
        usual = len(noise.SCALES)
        weight = piece.ordinary
        outliers = self._outliers(setup, bend, piece, weight)
        if piece.misfit > _NO_STORY_FITS:
            return replace(self, bends=self.bends + 1, outliers=outliers)

        # All stories share one regression of the other terms on these six: moments match exactly.
        block = [*range(6), JUMP]
        means, covs = piece.mean[:, block], piece.cov[:, block][:, :, block]
        middle = piece.chance @ means
        apart = means - middle
        spread = np.einsum("k,kij->ij", piece.chance, covs)
        spread += np.einsum("k,ki,kj->ij", piece.chance, apart, apart)
        carry = np.asarray(np.linalg.solve(cov, self.cov[at]).T, float)
        moved = self.mean + carry @ (middle[:6] - mean)
        grown = self.cov  # new with this bend, and nobody else's yet
        _spread_along(grown, carry, spread[:6, :6] - cov)
        # What may have jumped is from now on part of the slack.
        slack = at[SLACK]
        moved[slack] += middle[6]
        with_jump = carry @ spread[:6, 6]
        grown[slack] += with_jump
        grown[:, slack] += with_jump
        grown[slack, slack] += spread[6, 6]

        counts = self.counts | {key: self.counts.get(key, 0.0) + weight for key in setup.keys}
        settled, key = self.settled, setup.keys[SLACK]
        if key not in settled and counts[key] >= _SETTLES_AFTER:
            settled = settled | {key: (float(moved[slack]), math.sqrt(grown[slack, slack]))}
        return replace(
            self,
            settled=settled,
            mean=moved,
            cov=grown,
            scales=self._rescaled(piece.evidence[:usual], weight),
            bends=self.bends + 1,
            counts=counts,
            outliers=outliers,
        )

    def _rescaled(self, evidence: Array, weight: float) -> Array:
        likely = self.scales * np.exp(weight * (evidence - evidence.max()))
        floored = np.maximum(likely / likely.sum(), 1e-6)
        scales: Array = floored / floored.sum()
        return scales

    def _outliers(
        self, setup: Setup, bend: Bend, piece: PieceBelief, weight: float
    ) -> tuple[Outlier, ...]:
        if weight >= _DOUBT_BELOW:
            return self.outliers
        why, off_deg, off_sds = piece.oddity
        outlier = Outlier(
            number=self.bends + 1,
            name=bend.name,
            die=setup.die.die,
            tube=setup.tube.tube,
            lot=setup.lot,
            bend_angle=bend.bend_angle,
            weight=weight,
            off_deg=off_deg,
            off_sds=off_sds,
            why=why,
        )
        return (*self.outliers, outlier)[-_OUTLIERS_KEPT:]


def _spread_along(cov: Array, carry: Array, change: Array) -> None:
    """Add carry @ change @ carry.T in place, exactly symmetric: as squares, added or taken off."""
    sizes, ways = np.linalg.eigh((change + change.T) / 2)
    along = carry @ (ways * np.sqrt(np.abs(sizes)))
    nothing = 1e-16 * np.abs(sizes).max()
    more, less = sizes > nothing, sizes < -nothing
    if more.any():
        part = np.ascontiguousarray(along[:, more])
        cov += part @ part.T
    if less.any():
        part = np.ascontiguousarray(along[:, less])
        cov -= part @ part.T


def _mirrored(lower: Array, size: int) -> Array:
    """Give the symmetric matrix of which these are the rows up to the diagonal."""
    matrix = np.zeros((size, size))
    below = np.tri(size, dtype=bool)
    matrix[below] = lower
    matrix.T[below] = lower
    return matrix
