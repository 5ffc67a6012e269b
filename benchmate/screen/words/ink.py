"""The meanings that text is painted in, by name; instrument/palette.py gives them their colours."""

from typing import Literal, TypeAlias

Ink = Literal["plain", "dim", "bold", "good", "bad", "act", "attend", "mark", "key"]
INKS: tuple[Ink, ...] = ("plain", "dim", "bold", "good", "bad", "act", "attend", "mark", "key")
Line: TypeAlias = tuple[tuple[str, Ink], ...]
"""One line of text in pieces, each with its ink."""
