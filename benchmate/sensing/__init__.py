"""The arm angle: bus, chips, mount, estimator."""

from benchmate.sensing.chips.registry import chip_facts, open_chip

__all__ = ["chip_facts", "open_chip"]
