"""Rows on their way into the store: sent, answered, and sent again when they were refused. Pure."""

from dataclasses import dataclass, replace
from typing import TypeAlias

from benchmate.store.record import BendRecord, RunInput, RunRecord

TRY_AGAIN_S = 2.0
"""Between two attempts at a row that the store could not keep."""

Row: TypeAlias = BendRecord | RunRecord | RunInput


@dataclass(frozen=True, slots=True)
class Outbox:
    """What became of each row. The store answers in the order in which rows were sent."""

    sent: tuple[Row, ...] = ()
    refused: tuple[Row, ...] = ()
    """To be sent once more, in this order."""
    given_up: tuple[Row, ...] = ()
    """What the store can't keep however often it is sent."""
    again_at: float = 0.0

    @property
    def waiting(self) -> bool:
        """Tell whether the store has still to answer."""
        return bool(self.sent)

    @property
    def bends_refused(self) -> int:
        """Give how many bends the store could not keep as they stand."""
        return sum(isinstance(row, BendRecord) for row in (*self.refused, *self.given_up))


def sent(outbox: Outbox, row: Row) -> tuple[Outbox, tuple[Row, ...]]:
    """Send a row, or let it wait its turn; give what goes to the store now.

    A newer version of a bend stands for a refused one. A journal has no gaps: an entry waits until
    those before it are kept.
    """
    if isinstance(row, BendRecord):
        refused = tuple(each for each in outbox.refused if not _same_bend(each, row))
        given_up = tuple(each for each in outbox.given_up if not _same_bend(each, row))
        posted = (*outbox.sent, row)
        return replace(outbox, sent=posted, refused=refused, given_up=given_up), (row,)
    if any(not isinstance(each, BendRecord) for each in outbox.refused):
        return replace(outbox, refused=(*outbox.refused, row)), ()
    return replace(outbox, sent=(*outbox.sent, row)), (row,)


def answered(outbox: Outbox, t: float, *, kept: bool, for_good: bool = False) -> tuple[Outbox, Row]:
    """Take the store's answer to the oldest row sent; give that row.

    ``for_good``: what wasn't kept won't be the next time either.
    """
    row, *still = outbox.sent
    outbox = replace(outbox, sent=tuple(still))
    newer = isinstance(row, BendRecord) and any(_same_bend(each, row) for each in still)
    if kept or newer:
        return outbox, row
    if for_good:
        return replace(outbox, given_up=(*outbox.given_up, row)), row
    return replace(outbox, refused=(*outbox.refused, row), again_at=t + TRY_AGAIN_S), row


def sent_again(outbox: Outbox) -> tuple[Outbox, tuple[Row, ...]]:
    """Send all refused rows once more."""
    rows = outbox.refused
    return replace(outbox, sent=(*outbox.sent, *rows), refused=()), rows


def due_again(outbox: Outbox, t: float) -> bool:
    """Say whether refused rows are to be sent once more at this moment."""
    return bool(outbox.refused) and not outbox.sent and t >= outbox.again_at


def _same_bend(one: Row, other: BendRecord) -> bool:
    return isinstance(one, BendRecord) and one.bend_id == other.bend_id
