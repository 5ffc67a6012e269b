"""Rows on their way into the store: sent, answered, and sent again when they were refused."""

from collections import deque

from benchmate.store.record import BendRecord

TRY_AGAIN_S = 2.0
"""Between two attempts at a row that the store could not keep."""


class Keeping:
    """What became of each row. The store answers in the order in which rows were sent."""

    def __init__(self) -> None:
        self._sent: deque[BendRecord] = deque()
        self._refused: dict[str, BendRecord] = {}
        self._again_at = 0.0

    @property
    def waiting(self) -> bool:
        """Tell whether the store has still to answer."""
        return bool(self._sent)

    @property
    def refused(self) -> int:
        """Give how many bends the store could not keep as they stand."""
        return len(self._refused)

    def send(self, record: BendRecord) -> BendRecord:
        """Take note of a row that goes to the store; a newer version stands for a refused one."""
        self._refused.pop(record.bend_id, None)
        self._sent.append(record)
        return record

    def answered(self, t: float, *, kept: bool) -> None:
        """Take the store's answer to the oldest row sent."""
        record = self._sent.popleft()
        if kept or any(newer.bend_id == record.bend_id for newer in self._sent):
            return
        self._refused[record.bend_id] = record
        self._again_at = t + TRY_AGAIN_S

    def again(self, t: float) -> tuple[BendRecord, ...]:
        """Give the refused rows that are to be sent once more at this moment."""
        if self._sent or t < self._again_at:
            return ()
        return self.all_again()

    def all_again(self) -> tuple[BendRecord, ...]:
        """Give all refused rows, to be sent once more."""
        return tuple(self.send(record) for record in tuple(self._refused.values()))
