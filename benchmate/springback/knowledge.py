"""Everything the bench has learned, as one normal belief over all benches, dies, steels and lots.

Learning is a fold: one bend after another, each a few small matrices' worth of work that doesn't
grow with the bends behind it.
"""

import base64
import json
import math
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar

import numpy as np

from benchmate.errors import Failure
from benchmate.springback import noise
from benchmate.springback.bend import Bend
from benchmate.springback.piece import JUMP, PieceBelief, Press, judge, presses
from benchmate.springback.prior import BOW, DIE, DRIFT_SD, LEGS, SLACK, Array, Key, Setup
from benchmate.springback.stopping import Stopping

_DOUBTS_KEPT = 50
_DOUBT_BELOW = 0.5
_SETTLES_AFTER = 8
_NO_STORY_FITS = 60.0
"""Square of the deviations past which a bend's readings teach nothing: no story explains them."""


@dataclass(frozen=True, slots=True)
class Doubt:
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

    VERSION: ClassVar[int] = 3

    keys: tuple[Key, ...] = ()
    mean: Array = field(default_factory=lambda: np.zeros(0))
    cov: Array = field(default_factory=lambda: np.zeros((0, 0)))
    scales: Array = field(default_factory=lambda: noise.SCALE_PRIOR)
    """Weight of each scale of piece scatter in ``noise.SCALES``."""
    stopping: Stopping = field(default_factory=Stopping)
    bends: int = 0
    counts: dict[Key, float] = field(default_factory=dict)
    """Bends behind each term, doubted ones by their weight."""
    doubts: tuple[Doubt, ...] = ()
    """The last ones only."""
    index: dict[Key, int] = field(default_factory=dict)
    settled: dict[Key, tuple[float, float]] = field(default_factory=dict)
    """Each die's slack and its standard deviation when it had settled in: drift is told from it."""

    def of(self, setup: Setup) -> tuple[Array, Array]:
        """Give mean (6,) and covariance (6, 6) of a setup's terms; the prior for those not met."""
        mean, cov = setup.mean, np.diag(setup.sd**2)
        known = [term for term, key in enumerate(setup.keys) if key in self.index]
        if known:
            at = [self.index[setup.keys[term]] for term in known]
            mean[known] = self.mean[at]
            cov[np.ix_(known, known)] = self.cov[np.ix_(at, at)]
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
        return replace(self._met(setup), stopping=stopping)._taught(setup, bend, made)

    def dump(self) -> bytes:
        """Give the knowledge as version-tagged JSON that ``load`` reads back bit for bit."""
        lower = self.cov[np.tril_indices(len(self.keys))]
        plain = {
            "version": self.VERSION,
            "keys": self.keys,
            "mean": _packed(self.mean),
            "cov": _packed(lower),
            "scales": _packed(self.scales),
            "stopping": [getattr(self.stopping, name) for name in Stopping.__slots__],
            "bends": self.bends,
            "counts": [self.counts.get(key, 0.0) for key in self.keys],
            "settled": [[key, *pair] for key, pair in self.settled.items()],
            "doubts": [[getattr(doubt, name) for name in Doubt.__slots__] for doubt in self.doubts],
        }
        return json.dumps(plain, allow_nan=False).encode("ascii")

    @classmethod
    def load(cls, dumped: bytes) -> "Knowledge":
        """Read what ``dump`` wrote; Failure when it is something else or of another version."""
        try:
            plain: dict[str, Any] = json.loads(dumped)
            if plain["version"] != cls.VERSION:
                found = plain["version"]
                raise Failure(f"knowledge of version {found}, not {cls.VERSION}: fold the log anew")
            keys = tuple(tuple(key) for key in plain["keys"])
            cov = np.zeros((len(keys), len(keys)))
            cov[np.tril_indices(len(keys))] = _unpacked(plain["cov"])
            return cls(
                keys=keys,
                mean=_unpacked(plain["mean"]),
                cov=np.tril(cov) + np.tril(cov, -1).T,
                scales=_unpacked(plain["scales"]),
                stopping=Stopping(*plain["stopping"]),
                bends=plain["bends"],
                counts=dict(zip(keys, plain["counts"], strict=True)),
                doubts=tuple(Doubt(*doubt) for doubt in plain["doubts"]),
                index={key: at for at, key in enumerate(keys)},
                settled={tuple(key): (then, sd) for key, then, sd in plain["settled"]},
            )
        except (ValueError, TypeError, KeyError, AttributeError) as error:
            raise Failure(f"this is no knowledge of bends ({error}): fold the log anew") from error

    def _met(self, setup: Setup) -> "Knowledge":
        """Give the knowledge with the setup's terms in it: new ones as the prior, old drifted."""
        new = [term for term, key in enumerate(setup.keys) if key not in self.index]
        keys = self.keys + tuple(setup.keys[term] for term in new)
        old, size = len(self.keys), len(keys)
        cov = np.zeros((size, size))
        cov[:old, :old] = self.cov
        cov[range(old, size), range(old, size)] = setup.sd[new] ** 2
        index = self.index | {key: old + at for at, key in enumerate(keys[old:])}
        for term in (SLACK, LEGS, DIE, BOW):
            if term not in new:
                at = index[setup.keys[term]]
                cov[at, at] += DRIFT_SD[term] ** 2
        mean = np.append(self.mean, setup.mean[new])
        return replace(self, keys=keys, mean=mean, cov=cov, index=index)

    def _taught(self, setup: Setup, bend: Bend, made: list[Press]) -> "Knowledge":
        at = [self.index[key] for key in setup.keys]
        mean, cov = self.mean[at], self.cov[np.ix_(at, at)]
        piece = judge(setup, mean, cov, self.scales, made)
        usual = len(noise.SCALES)
        weight = piece.ordinary
        doubts = self._doubted(setup, bend, piece, weight)
        if piece.misfit > _NO_STORY_FITS:
            return replace(self, bends=self.bends + 1, doubts=doubts)

        # All stories share one regression of the other terms on these six: moments match exactly.
        block = [*range(6), JUMP]
        means, covs = piece.mean[:, block], piece.cov[:, block][:, :, block]
        middle = piece.chance @ means
        apart = means - middle
        spread = np.einsum("k,kij->ij", piece.chance, covs)
        spread += np.einsum("k,ki,kj->ij", piece.chance, apart, apart)
        carry = np.linalg.solve(cov, self.cov[at]).T
        moved = self.mean + carry @ (middle[:6] - mean)
        grown = self.cov + carry @ (spread[:6, :6] - cov) @ carry.T
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
            cov=(grown + grown.T) / 2,
            scales=self._rescaled(piece.evidence[:usual], weight),
            bends=self.bends + 1,
            counts=counts,
            doubts=doubts,
        )

    def _rescaled(self, evidence: Array, weight: float) -> Array:
        likely = self.scales * np.exp(weight * (evidence - evidence.max()))
        floored = np.maximum(likely / likely.sum(), 1e-6)
        scales: Array = floored / floored.sum()
        return scales

    def _doubted(
        self, setup: Setup, bend: Bend, piece: PieceBelief, weight: float
    ) -> tuple[Doubt, ...]:
        if weight >= _DOUBT_BELOW:
            return self.doubts
        why, off_deg, off_sds = piece.oddity
        doubt = Doubt(
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
        return (*self.doubts, doubt)[-_DOUBTS_KEPT:]


def _packed(numbers: Array) -> str:
    return base64.b64encode(np.asarray(numbers, "<f8").tobytes()).decode("ascii")


def _unpacked(text: str) -> Array:
    return np.frombuffer(base64.b64decode(text), "<f8").astype(float)
