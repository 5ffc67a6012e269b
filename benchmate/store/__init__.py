"""The calibration store: every bend, durable and never edited away."""

from benchmate.store.merging import Merged, merge
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
from benchmate.store.rescuing import Rescued, rescue
from benchmate.store.writer import Store

__all__ = [
    "BendRecord",
    "HitRecord",
    "Log",
    "LoggedBend",
    "LoggedRun",
    "Merged",
    "Receipt",
    "Rescued",
    "RowRefused",
    "RunInput",
    "RunRecord",
    "Store",
    "merge",
    "rescue",
]
