"""The calibration store: every bend, durable and never edited away."""

from benchmate.store.merging import Merged, Salvaged, merge, salvage
from benchmate.store.reader import Log
from benchmate.store.record import (
    BendRecord,
    HitRecord,
    LoggedBend,
    LoggedRun,
    Receipt,
    RowRefused,
    RunInput,
    RunRecord,
)
from benchmate.store.writer import Store

__all__ = [
    "BendRecord",
    "HitRecord",
    "Log",
    "LoggedBend",
    "LoggedRun",
    "Merged",
    "Receipt",
    "RowRefused",
    "RunInput",
    "RunRecord",
    "Salvaged",
    "Store",
    "merge",
    "salvage",
]
