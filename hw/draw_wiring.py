"""Draw hw/wiring.svg: ``python hw/draw_wiring.py``."""

from collections.abc import Iterator
from html import escape
from pathlib import Path
from typing import NamedTuple

HEADER = (
    ("3V3", "5V"),
    ("GPIO2", "5V"),
    ("GPIO3", "GND"),
    ("GPIO4", "GPIO14"),
    ("GND", "GPIO15"),
    ("GPIO17", "GPIO18"),
    ("GPIO27", "GND"),
    ("GPIO22", "GPIO23"),
    ("3V3", "GPIO24"),
    ("GPIO10", "GND"),
    ("GPIO9", "GPIO25"),
    ("GPIO11", "GPIO8"),
    ("GND", "GPIO7"),
    ("ID_SD", "ID_SC"),
    ("GPIO5", "GND"),
    ("GPIO6", "GPIO12"),
    ("GPIO13", "GND"),
    ("GPIO19", "GPIO16"),
    ("GPIO26", "GPIO20"),
    ("GND", "GPIO21"),
)
"""What each pin is, row by row: the odd pin, the even pin."""


class Wire(NamedTuple):
    """One wire: the header's pin, the part's terminal, the colour, what sits in the line."""

    pin: int
    terminal: str
    colour: str
    inline: str = ""


class Part(NamedTuple):
    """A part beside the header: its name, lines about it, its wires from top to bottom."""

    name: str
    about: tuple[str, ...]
    wires: tuple[Wire, ...]


RED, BLACK, BLUE, ORANGE, GREEN = "#c62828", "#222222", "#1565c0", "#e07b00", "#2e7d32"

PARTS = (
    Part(
        "Sensor",
        ("in its box near the pivot,", "on shielded twisted pairs"),
        (
            Wire(1, "3V3", RED),
            Wire(3, "SDA", BLUE),
            Wire(5, "SCL", ORANGE),
            Wire(9, "GND", BLACK),
        ),
    ),
    Part(
        "Foot switch",
        ("closes when pressed;", "100 nF across it,", "at the Pi's end"),
        (
            Wire(11, "contact", GREEN),
            Wire(17, "same contact", RED, "10 k"),
            Wire(25, "GND", BLACK),
        ),
    ),
    Part(
        "Lights 1 to 5",
        ("LEDs: long leg", "to the pin, short", "leg to GND"),
        (
            Wire(29, "1  pump", GREEN, "330 R"),
            Wire(31, "2  slow", GREEN, "330 R"),
            Wire(33, "3  nearly there", GREEN, "330 R"),
            Wire(35, "4  release", GREEN, "330 R"),
            Wire(37, "5  stop", GREEN, "330 R"),
            Wire(39, "GND", BLACK),
        ),
    ),
    Part(
        "Buzzer",
        ("passive piezo",),
        (Wire(12, "+", GREEN, "220 R"), Wire(14, "GND", BLACK)),
    ),
)

WIDTH, ROW, TOP = 1000, 30, 90
PIN_X = {1: 520, 0: 550}
"""Where the odd pins' column stands, and the even pins'."""


def row_y(pin: int) -> int:
    """Give the height of a pin's row."""
    return TOP + (pin - 1) // 2 * ROW


def text(x: float, y: float, words: str, look: str = "", anchor: str = "start") -> str:
    """Give a line of text, set about its middle height."""
    return f'<text x="{x}" y="{y + 5}" text-anchor="{anchor}" {look}>{escape(words)}</text>'


def header() -> Iterator[str]:
    """Draw the 40 pins with their names."""
    used = {wire.pin for part in PARTS for wire in part.wires}
    left, height = PIN_X[1] - 18, len(HEADER) * ROW + 6
    yield f'<rect x="{left}" y="{TOP - 18}" width="66" height="{height}" rx="6" fill="#263238"/>'
    names = (name for row in HEADER for name in row)
    for pin, name in enumerate(names, start=1):
        x, y, wired = PIN_X[pin % 2], row_y(pin), pin in used
        fill = "#ffd54f" if wired else "#90a4ae"
        shape = f'width="22" height="22" rx="{3 if pin == 1 else 11}" fill="{fill}"'
        yield f'<rect x="{x - 11}" y="{y - 11}" {shape}/>'
        yield text(x, y, str(pin), 'font-size="11"', "middle")
        look = 'font-weight="bold"' if wired else 'fill="#78909c"'
        aside, side = (-26, "end") if pin % 2 else (26, "start")
        yield text(x + aside, y - (10 if wired else 0), name, f'font-size="13" {look}', side)


def part(drawn: Part) -> Iterator[str]:
    """Draw a part beside its pins, and its wires."""
    odd = drawn.wires[0].pin % 2
    first, last = row_y(drawn.wires[0].pin), row_y(drawn.wires[-1].pin)
    x, width = (20, 310) if odd else (700, 280)
    yield (
        f'<rect x="{x}" y="{first - 13}" width="{width}" height="{last - first + 26}" rx="7" '
        'fill="#fafafa" stroke="#455a64" stroke-width="2"/>'
    )
    inner = x + (12 if odd else 110)
    yield text(inner, first + 2, drawn.name, 'font-size="17" font-weight="bold"')
    for line, words in enumerate(drawn.about, start=1):
        yield text(inner, first + 6 + 19 * line, words, 'font-size="12" fill="#455a64"')
    near, inward, side = (x + width, -10, "end") if odd else (x, 10, "start")
    for wire in drawn.wires:
        y, end = row_y(wire.pin), PIN_X[odd] + (-11 if odd else 11)
        yield f'<path d="M{near} {y} H{end}" stroke="{wire.colour}" stroke-width="3" fill="none"/>'
        yield text(near + inward, y, wire.terminal, 'font-size="13"', side)
        if wire.inline:
            middle = near + (50 if odd else -37)
            yield (
                f'<rect x="{middle - 27}" y="{y - 9}" width="54" height="18" rx="3" fill="#fff" '
                f'stroke="{wire.colour}" stroke-width="2"/>'
            )
            yield text(middle, y, wire.inline, 'font-size="12"', "middle")


def drawing() -> str:
    """Give the whole picture as SVG."""
    height = TOP + len(HEADER) * ROW + 10
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" '
        'font-family="sans-serif">',
        f'<rect width="{WIDTH}" height="{height}" fill="#ffffff"/>',
        text(40, 32, "Wiring at the Raspberry Pi's 40-pin header", 'font-size="20"'),
        text(PIN_X[1] + 15, 60, "pin 1: the square pad", 'font-size="12"', "middle"),
        *header(),
        *(line for drawn in PARTS for line in part(drawn)),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    Path(__file__).with_name("wiring.svg").write_text(drawing(), encoding="utf-8")
