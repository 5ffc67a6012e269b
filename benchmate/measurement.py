"""What a measurement by hand may be off by, and when one is held to be improbable."""

PROTRACTOR_SD_DEG = 0.12
"""Standard deviation of one reading off a workshop protractor (our own allowance, no source)."""
IMPROBABLE_SDS = 3.29
"""Standard deviations that one good reading in a thousand exceeds (two-sided normal)."""
