"""What steel does: sections, hardening, moment and curvature, elastic springback. Pure."""

from benchmate.metal.hardening import Hollomon, Ludwik, PerfectlyPlastic, Swift, from_strengths
from benchmate.metal.moment import (
    free_radius_mm,
    moment_nmm,
    released_per_mm,
    springback_per_degree,
)
from benchmate.metal.section import Section
from benchmate.metal.tube_properties import section_of, steel_of

__all__ = [
    "Hollomon",
    "Ludwik",
    "PerfectlyPlastic",
    "Section",
    "Swift",
    "free_radius_mm",
    "from_strengths",
    "moment_nmm",
    "released_per_mm",
    "section_of",
    "springback_per_degree",
    "steel_of",
]
