"""The run of a part at the bender: one frozen state, moved on by one pure function.

``run`` is what the journal keeps and gives back, ``state`` all that a running bench knows beside
it, ``reduce`` what an input makes of that. ``session`` holds the state while the program runs.
"""

from benchmate.bench.session.outbox import Row
from benchmate.bench.session.run import Run, begun, folded
from benchmate.bench.session.session import Session, Told
from benchmate.bench.session.state import State, UnfinishedRun
from benchmate.bench.session.task import Replan, Task

__all__ = [
    "Replan",
    "Row",
    "Run",
    "Session",
    "State",
    "Task",
    "Told",
    "UnfinishedRun",
    "begun",
    "folded",
]
