"""From a written job to marks, turns, bend angles, stop angles, cut length and warnings."""

import itertools
from dataclasses import dataclass
from typing import Protocol

from benchmate.errors import Refusal
from benchmate.layout.chain import Chain, from_points
from benchmate.layout.clash_words import clash_warnings
from benchmate.layout.figures import Figures, Measured, RestsOn, TrialFound, figures_for
from benchmate.layout.limits import warnings_for
from benchmate.layout.marked import Marked
from benchmate.shop.keep_out import KeepOut
from benchmate.shop.parts import Die, Job, Tube
from benchmate.springback.bend import Aim
from benchmate.units import LengthUnit


class Springback(Protocol):
    """What a plan asks of the springback model."""

    def free_radius_mm(self) -> tuple[float, float]:
        """Give the centreline radius expected after springback and its standard deviation, mm."""
        ...

    def aim(
        self,
        bend_angle: float,
        tolerance: float,
        hits: tuple[tuple[float, float | None, float | None], ...] = (),
    ) -> Aim:
        """Give the stop angle for a bend and how sure it is, degrees."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedBend:
    """One bend of a plan. Degrees, and mm along the straight tube from its first end."""

    bend: int
    mark_mm: float
    """Where to put the layout mark that is held at the die's line."""
    turn_deg: float
    bend_angle_deg: float
    stop_angle_deg: float
    sd_deg: float
    """One standard deviation of the bend angle that the stop angle will give."""
    free_radius_mm: float
    straight_mm: float
    """The straight before this bend, tangent point to tangent point."""
    start_mm: float
    """Start of bend."""
    arc_mm: float
    """Tube that the arc uses."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A job laid out on the tube, with what the figures rest on and what to look out for."""

    job: str
    die: str
    tube: str
    lot: str
    tolerance_deg: float
    bends: tuple[PlannedBend, ...]
    tail_mm: float
    cut_length_mm: float
    chain: Chain
    figures: Figures
    rests_on: tuple[RestsOn, ...]
    warnings: tuple[str, ...]


def plan_job(
    job: Job,
    die: Die,
    tube: Tube,
    model: Springback,
    *,
    found: TrialFound | None = None,
    keep_out: KeepOut | None = None,
    unit: LengthUnit = "mm",
) -> Plan:
    """Lay a job out: marks, turns, stop angles, cut length and warnings.

    ``model`` is the setup's springback model; ``found`` what trial pieces showed of the die;
    ``keep_out`` what stands round the bender; ``unit`` the one that the warnings are written in.
    Raises Refusal for a part that has no geometry (points in line, an angle outside 0 to 180).
    """
    figures = figures_for(die, tube, Measured(*model.free_radius_mm()), found)
    chain = chain_of(job, figures.free_radius_mm.value)
    starts, arcs, cut_length = along_tube(chain, figures.stretch.value)
    aims = {
        angle: model.aim(bend_angle=angle, tolerance=job.tolerance_deg)
        for angle in set(chain.angles_deg)
    }
    bends = tuple(
        PlannedBend(
            bend=number,
            mark_mm=start - figures.start_offset_mm.value,
            turn_deg=turn,
            bend_angle_deg=angle,
            stop_angle_deg=aims[angle].stop_angle,
            sd_deg=aims[angle].sd,
            free_radius_mm=chain.radius_mm,
            straight_mm=straight,
            start_mm=start,
            arc_mm=arc,
        )
        for number, (start, turn, angle, straight, arc) in enumerate(
            zip(
                starts,
                chain.turns_deg,
                chain.angles_deg,
                chain.straights_mm[:-1],
                arcs,
                strict=True,
            ),
            start=1,
        )
    )
    return Plan(
        job=job.job,
        die=die.die,
        tube=tube.tube,
        lot=job.lot,
        tolerance_deg=job.tolerance_deg,
        bends=bends,
        tail_mm=chain.straights_mm[-1],
        cut_length_mm=cut_length,
        chain=chain,
        figures=figures,
        rests_on=figures.rests_on,
        warnings=(
            *warnings_for(chain, starts, die, tube, figures, unit=unit),
            *clash_warnings(
                Marked.of(chain, figures.stretch.value), tube.od_mm, keep_out or KeepOut()
            ),
        ),
    )


def chain_of(job: Job, free_radius_mm: float) -> Chain:
    """Give the job's centreline, its straights solved with the radius that the tube will have."""
    if job.points_mm:
        return from_points(job.points_mm, free_radius_mm)
    if not job.bends or job.tail_mm is None:
        raise Refusal(f"job {job.job}: give bends with a tail, or points")
    return Chain(
        straights_mm=(*(bend.straight_mm for bend in job.bends), job.tail_mm),
        turns_deg=tuple(bend.turn_deg for bend in job.bends),
        angles_deg=tuple(bend.angle_deg for bend in job.bends),
        radius_mm=free_radius_mm,
    )


def along_tube(chain: Chain, stretch: float) -> tuple[list[float], list[float], float]:
    """Give starts of bend, tube used by each arc, and cut length, along the straight tube in mm.

    Of an arc's length the tube gave (1 - stretch); stretching gave the rest.
    """
    arcs = [arc * (1 - stretch) for arc in chain.arcs_mm]
    pairs = zip(chain.straights_mm[:-1], arcs, strict=True)
    ends = list(itertools.accumulate(straight + arc for straight, arc in pairs))
    starts = [end - arc for end, arc in zip(ends, arcs, strict=True)]
    return starts, arcs, ends[-1] + chain.straights_mm[-1] if ends else chain.straights_mm[-1]
