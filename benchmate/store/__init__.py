"""The calibration store: every bend, durable and never edited away."""

from benchmate.store.reading import Log
from benchmate.store.record import BendRecord, HitRecord, Logged, LoggedBend
from benchmate.store.writing import Store

__all__ = ["BendRecord", "HitRecord", "Log", "Logged", "LoggedBend", "Store"]
