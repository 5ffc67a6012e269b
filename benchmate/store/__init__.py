"""The calibration store: every bend, durable and never edited away."""

from benchmate.store.merging import Merged, Salvaged, merge, salvage
from benchmate.store.reading import Log
from benchmate.store.record import BendRecord, HitRecord, Logged, LoggedBend
from benchmate.store.writing import Store

__all__ = [
    "BendRecord",
    "HitRecord",
    "Log",
    "Logged",
    "LoggedBend",
    "Merged",
    "Salvaged",
    "Store",
    "merge",
    "salvage",
]
