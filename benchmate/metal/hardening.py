"""Flow stress against strain: the hardening laws, and the law of a steel known by two strengths.

Stresses MPa, strains plain ratios (0.01, not 1 %). Each law is elastic up to its ``yield_strain``;
``flow_mpa`` holds past it. The plastic strain is taken as total less yield strain: the elastic
strain's own small growth past yield moves the stress by less than 0.5 % for steel.
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PROOF_OFFSET = 0.002
"""Plastic strain at which a tension test reads the proof (yield) strength: ISO 6892-1, Rp0.2."""


class Hardening(Protocol):
    """What the moment needs to know of a steel."""

    @property
    def modulus_mpa(self) -> float:
        """Young's modulus [MPa]."""
        ...

    @property
    def yield_strain(self) -> float:
        """Strain up to which the steel is elastic."""
        ...

    def flow_mpa(self, strain: Array) -> Array:
        """Give the stress [MPa] at each strain past yield."""
        ...


@dataclass(frozen=True, slots=True)
class PerfectlyPlastic:
    """Constant flow stress past yield."""

    modulus_mpa: float
    yield_mpa: float

    @property
    def yield_strain(self) -> float:
        """Give yield stress over modulus."""
        return self.yield_mpa / self.modulus_mpa

    def flow_mpa(self, strain: Array) -> Array:
        """Give the yield stress at each strain."""
        return np.full_like(strain, self.yield_mpa)


@dataclass(frozen=True, slots=True)
class Swift:
    """K (e0 + ep)^n with e0 = (Y/K)^(1/n), so that flow starts at Y.

    H. W. Swift, "Plastic instability under plane stress", J. Mech. Phys. Solids 1 (1952) 1-18.
    """

    modulus_mpa: float
    yield_mpa: float
    K_mpa: float
    n: float

    @property
    def yield_strain(self) -> float:
        """Give yield stress over modulus."""
        return self.yield_mpa / self.modulus_mpa

    def flow_mpa(self, strain: Array) -> Array:
        """Give the stress at each strain past yield."""
        prestrain = (self.yield_mpa / self.K_mpa) ** (1 / self.n)
        flow: Array = self.K_mpa * (prestrain + strain - self.yield_strain) ** self.n
        return flow


@dataclass(frozen=True, slots=True)
class Ludwik:
    """Y + H ep^n. P. Ludwik, "Elemente der technologischen Mechanik" (1909)."""

    modulus_mpa: float
    yield_mpa: float
    H_mpa: float
    n: float

    @property
    def yield_strain(self) -> float:
        """Give yield stress over modulus."""
        return self.yield_mpa / self.modulus_mpa

    def flow_mpa(self, strain: Array) -> Array:
        """Give the stress at each strain past yield."""
        flow: Array = self.yield_mpa + self.H_mpa * (strain - self.yield_strain) ** self.n
        return flow


@dataclass(frozen=True, slots=True)
class Hollomon:
    """K e^n of the whole strain, rigid before it. J. H. Hollomon, Trans. AIME 162 (1945) 268."""

    modulus_mpa: float
    K_mpa: float
    n: float

    @property
    def yield_strain(self) -> float:
        """Give 0: the law has no elastic part."""
        return 0.0

    def flow_mpa(self, strain: Array) -> Array:
        """Give the stress at each strain."""
        flow: Array = self.K_mpa * strain**self.n
        return flow


def from_strengths(
    modulus_mpa: float, yield_mpa: float, tensile_mpa: float
) -> Swift | PerfectlyPlastic:
    """Give the hardening law of a steel known by yield and tensile strength alone.

    The power law K strain^n that meets both: at the proof strain Y/E + 0.002 its stress is the
    yield strength; at its own necking strain, which is n (Considère: d sigma/d strain = sigma),
    its engineering stress K (n/e)^n, e = 2.718..., is the tensile strength (W. F. Hosford and
    R. M. Caddell, "Metal Forming", chapter on plastic instability). Dividing one by the other
    leaves n (1 + ln(proof strain / n)) = ln(Y / tensile), which falls for n past the proof strain.
    With no room between the two strengths the steel is perfectly plastic.
    """
    if tensile_mpa <= yield_mpa:
        return PerfectlyPlastic(modulus_mpa, yield_mpa)
    proof = yield_mpa / modulus_mpa + PROOF_OFFSET
    wanted = math.log(yield_mpa / tensile_mpa)
    low, high = math.e * proof, 1.0
    for _ in range(60):
        n = (low + high) / 2
        if n * (1 + math.log(proof / n)) > wanted:
            low = n
        else:
            high = n
    n = (low + high) / 2
    return Swift(modulus_mpa, yield_mpa, tensile_mpa * (math.e / n) ** n, n)
