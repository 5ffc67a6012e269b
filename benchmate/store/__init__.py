"""The calibration store: every bend, durable and never edited away."""

from benchmate.store.merge import Merged, Salvaged, merge, salvage
from benchmate.store.reader import Log
from benchmate.store.record import BendRecord, HitRecord, LoggedBend, Receipt
from benchmate.store.writer import Store

__all__ = [
    "BendRecord",
    "HitRecord",
    "Log",
    "Receipt",
    "LoggedBend",
    "Merged",
    "Salvaged",
    "Store",
    "merge",
    "salvage",
]
