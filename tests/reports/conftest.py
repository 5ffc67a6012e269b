"""A die, a tube and a springback model with numbers that a reader can follow in the head."""

from dataclasses import dataclass

import pytest

from benchmate.shop.parts import Die, Tube
from benchmate.springback.bend import Aim


@dataclass(frozen=True)
class PlainModel:
    """Springback of 2 % with 1 degree of slack: a bend of 90 stops at 92.8."""

    radius_mm: float = 100.0

    def free_radius_mm(self) -> tuple[float, float]:
        return self.radius_mm * 1.02, 0.3

    def aim(
        self,
        bend_angle: float,
        tolerance: float,
        hits: tuple[tuple[float, float | None, float | None], ...] = (),
    ) -> Aim:
        stop = 1 + 1.02 * bend_angle
        return Aim(
            verdict="again",
            stop_angle=stop,
            sd=0.01 * bend_angle,
            bend_angle=0.0,
            stop_sd=0.01 * bend_angle,
            over_angle=stop + tolerance,
            expected=bend_angle,
        )


@pytest.fixture
def model() -> PlainModel:
    return PlainModel()


@pytest.fixture
def die() -> Die:
    return Die(
        die="heron-100",
        for_od_mm=30,
        centreline_radius_mm=100,
        max_angle_deg=180,
        start_offset_mm=12,
    )


@pytest.fixture
def tube() -> Tube:
    return Tube(
        tube="rail-30",
        od_mm=30,
        wall_mm=2,
        grade="E235",
        yield_strength_mpa=300,
        tensile_strength_mpa=400,
    )
