"""Load of each bend of a die in time, against what is proven and asked: letters, SVG or PNG."""

from pathlib import Path

from benchmate.errors import Refusal
from benchmate.reports.page import Mark, PaperPage, Rect, Stroke, Text
from benchmate.reports.png import write_png
from benchmate.reports.svg import write_svg
from benchmate.tooling.history import History
from benchmate.tooling.load import load_of
from benchmate.tooling.proven import LoadAsked, largest
from benchmate.wording import printable

_WIDE, _HIGH = 180.0, 120.0
_LEFT, _TOP, _RIGHT, _BOTTOM = 22.0, 18.0, 174.0, 102.0


def loads_nm(history: History) -> list[float]:
    """Give the moment of each bend of the die, oldest first [N m]."""
    return [load_of(history.die, each.tube, 1.0).moment_nmm / 1000 for each in history.bends]


def limit_nm(wanted: LoadAsked | None) -> float | None:
    """Give the moment at which the first part that is described passes its limit [N m].

    Every load grows with the moment, so the part with the largest ratio comes first.
    """
    if wanted is None or not wanted.limits:
        return None
    return wanted.load.moment_nmm / 1000 / max(limit.ratio for limit in wanted.limits)


def write(path: Path, history: History, wanted: LoadAsked | None) -> None:
    """Write the picture; Refusal for an ending that is neither .svg nor .png."""
    kind = path.suffix.lower()
    if kind == ".svg":
        write_svg(path, [page(history, wanted)])
    elif kind == ".png":
        write_png(path, page(history, wanted))
    else:
        raise Refusal(printable(f"{path}: name a file that ends in .svg or .png", limit=400))


def page(history: History, wanted: LoadAsked | None) -> PaperPage:
    """Draw the load of each bend, with lines at proven, asked and the first limit."""
    loads = loads_nm(history)
    lines = _lines(history, wanted)
    top = 1.15 * max([1.0, *loads, *(value for _, value, _ in lines)])

    def y(value: float) -> float:
        return _BOTTOM - (_BOTTOM - _TOP) * value / top

    count = max(len(loads), 1)
    marks: list[Mark] = [
        Text(_LEFT, 8.0, printable(f"die {history.die.die}", 90), 4.0, bold=True),
        Text(_LEFT, 13.5, "bending moment of each bend, by the tube's written strengths", 3.2),
        Rect(_LEFT, _TOP, _RIGHT - _LEFT, _BOTTOM - _TOP),
    ]
    for number, value in enumerate(loads):
        x = _LEFT + (_RIGHT - _LEFT) * (number + 0.5) / count
        marks.append(Stroke(((x, _BOTTOM), (x, y(value))), 0.5))
    for name, value, dash in lines:
        marks += [
            Stroke(((_LEFT, y(value)), (_RIGHT, y(value))), 0.35, 0.2, dash),
            Text(_RIGHT - 1, y(value) - 1, f"{name} {value:.0f} N m", 3.0, "end"),
        ]
    marks += [
        Text(_LEFT - 2, y(top * part / 4) + 1, f"{top * part / 4:.0f}", 3.0, "end")
        for part in range(5)
    ]
    marks += [
        Text(
            (_LEFT + _RIGHT) / 2, _BOTTOM + 8, f"bends, oldest first: {len(loads)}", 3.5, "middle"
        ),
        Text(8.0, (_TOP + _BOTTOM) / 2, "moment [N m]", 3.5, "middle", upright=True),
        Text(_LEFT, _HIGH - 3, "limit: where the sums no longer rule failure out; no promise", 3.0),
    ]
    return PaperPage(_WIDE, _HIGH, tuple(marks))


def plot(history: History, wanted: LoadAsked | None, wide: int = 60, high: int = 14) -> list[str]:
    """Draw the same in letters."""
    loads = loads_nm(history)[-wide:]
    lines = _lines(history, wanted)
    top = 1.1 * max([1.0, *loads, *(value for _, value, _ in lines)])
    rows = []
    for row in range(high, 0, -1):
        level, below = top * row / high, top * (row - 1) / high
        name = next(
            (f" {name} {value:.0f}" for name, value, _ in lines if below < value <= level), ""
        )
        letters = ("-" if name else " ") * wide
        drawn = [
            "#" if value >= (level + below) / 2 else blank
            for value, blank in zip(loads, letters, strict=False)
        ]
        rows.append(f"{level:7.0f} |{''.join(drawn)}{letters[len(loads) :]}{name}".rstrip())
    return [
        *rows,
        " " * 8 + "+" + "-" * wide,
        f"N m of each bend, oldest first, by the tubes' written strengths: {len(loads)} bends",
    ]


def _lines(history: History, wanted: LoadAsked | None) -> list[tuple[str, float, float]]:
    lines = []
    proven = largest(history.carried)
    if proven is not None:
        lines.append(("proven", proven.load.moment_nmm / 1000, 0.0))
    if wanted is not None:
        lines.append(("asked", wanted.load.moment_nmm / 1000, 2.0))
    limit = limit_nm(wanted)
    if limit is not None:
        lines.append(("limit", limit, 1.0))
    return lines
