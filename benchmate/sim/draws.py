"""Chance that repeats: the same names give the same draws in every run on every machine."""

import hashlib

import numpy as np


def stable_seed(*names: object) -> int:
    """Give a 64-bit seed that depends on the names alone (Python's own hash changes by run)."""
    text = "\x1f".join(str(name) for name in names)
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")


def chance(*names: object) -> np.random.Generator:
    """Give a generator of its own for the names."""
    return np.random.default_rng(stable_seed(*names))


_BLOCK = 256


class Noise:
    """Standard normal noise by sample number: asking twice, or late, or never changes nothing."""

    def __init__(self, seed: int, channels: int) -> None:
        self._seed = seed
        self._channels = channels
        self._number = -1
        self._rows: list[list[float]] = []

    def row(self, sample: int) -> list[float]:
        """Give the sample's noise, one value a channel, each of mean 0 and deviation 1."""
        number, place = divmod(sample, _BLOCK)
        if number != self._number:
            block = np.random.default_rng((self._seed, number))
            self._rows = block.standard_normal((_BLOCK, self._channels)).tolist()
            self._number = number
        return self._rows[place]
