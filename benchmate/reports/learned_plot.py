"""Springback against bend angle in letters, for any terminal."""

from benchmate.reports.learned_table import KnownSetup, curve_for, points

_LEFT = 7


def plot(known: KnownSetup, columns: int, rows: int) -> list[str]:
    """Draw the bends, the fitted line and its 68 and 95 % bands of the next bend."""
    belief = known.model.belief()
    curve, dots = curve_for(known, belief), points(known, belief)
    wide, high = max(min(columns, 120) - _LEFT - 2, 24), max(min(rows, 30) - 3, 8)
    end = float(curve.angle[-1])
    top = max(
        [float((curve.springback + 2 * curve.bend_sd).max()), *(spring for _, spring, _ in dots)]
    )
    bottom = min([0.0, *(spring for _, spring, _ in dots)])
    step = (top - bottom) / (high - 1) or 1.0

    def row(springback: float) -> int:
        return min(max(round((top - springback) / step), 0), high - 1)

    field = [[" "] * wide for _ in range(high)]
    at_columns = known.model.curve([end * column / (wide - 1) for column in range(wide)])
    for column in range(wide):
        middle, sd = float(at_columns.springback[column]), float(at_columns.bend_sd[column])
        for letter, reach in ((".", 1.96), (":", 0.9945)):
            for line in range(row(middle + reach * sd), row(middle - reach * sd) + 1):
                field[line][column] = letter
        field[row(middle)][column] = "-"
    for angle, springback, outlying in dots:
        column = min(max(round(angle / end * (wide - 1)), 0), wide - 1)
        field[row(springback)][column] = "x" if outlying else "o"
    lines = [
        f"{top - line * step:{_LEFT - 1}.2f} |{''.join(letters).rstrip()}"
        for line, letters in enumerate(field)
    ]
    half = f"{end / 2:.0f}"
    return [
        *lines,
        " " * _LEFT + "+" + "-" * wide,
        f"{'0':>{_LEFT + 2}}{half:>{wide // 2}}{f'{end:.0f} deg':>{wide - wide // 2 - 1}}",
        "springback by bend angle; o bend, x odd, - line; next bends: : 68 %, . 95 %",
    ]
