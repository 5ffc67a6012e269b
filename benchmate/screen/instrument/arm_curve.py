"""The bend so far as a plot in cells: arm angle over time, with the stop angle as a line."""

from benchmate.screen.state.bench_state import ArmCurve

BLOCK = "\u2588"
DASH = "\u2500"


def plot(curve: ArmCurve, width: int, height: int, stop_angle: float, top: float) -> list[str]:
    """Draw the curve into a box of cells, newest point at the right end.

    The foot of the box is 0 degrees and its head ``top``; every column spans the angles that the
    arm passed in its share of the time, so that the curve has no holes.
    """
    if width < 1 or height < 1:
        return []
    rows = [[" "] * width for _ in range(height)]
    line = _row(stop_angle, height, top)
    rows[line] = [DASH] * width
    before: int | None = None
    for column, angle in enumerate(_columns(curve, width)):
        if angle is None:
            before = None
            continue
        row = _row(angle, height, top)
        upper, lower = (row, row) if before is None else (min(row, before), max(row, before))
        if before is not None and upper < lower:
            # The row that the column before already fills is not filled twice.
            upper, lower = (upper, lower - 1) if before == lower else (upper + 1, lower)
        for filled in range(upper, lower + 1):
            rows[filled][column] = BLOCK
        before = row
    return ["".join(row) for row in rows]


def _row(angle: float, height: int, top: float) -> int:
    part = min(max(angle / top, 0.0), 1.0) if top > 0 else 0.0
    return height - 1 - round(part * (height - 1))


def _columns(curve: ArmCurve, width: int) -> list[float | None]:
    if not curve.points:
        return []
    span = max(curve.points[-1][0], width * 0.1)
    columns: list[float | None] = [None] * width
    for at, angle in curve.points:
        columns[min(int(at / span * width), width - 1)] = angle
    last: float | None = None
    end = min(int(curve.points[-1][0] / span * width), width - 1)
    for column in range(end + 1):
        if columns[column] is None:
            columns[column] = last
        last = columns[column]
    return columns
