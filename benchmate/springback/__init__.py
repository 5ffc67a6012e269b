"""How far to go past: springback learned, and the aim that follows. Pure."""

from benchmate.springback.bend import Aim, Bend, Hit
from benchmate.springback.knowledge import Knowledge
from benchmate.springback.model import Springback

__all__ = ["Aim", "Bend", "Hit", "Knowledge", "Springback"]
