"""From a written job to marks, turns, bend angles, stop angles, cut length and warnings."""

from dataclasses import dataclass
from typing import Protocol

from benchmate.errors import Refusal
from benchmate.layout.chain import Chain, from_points
from benchmate.layout.clash_words import clash_warnings
from benchmate.layout.figures import Figures, Measured, RestsOn, TrialFound, figures_for
from benchmate.layout.limits import warnings_for
from benchmate.layout.marked import Marked
from benchmate.layout.shapes import shape_chain
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
    fit: tuple[int, ...] = ()
    """Points that matter most, as the job numbers them; empty: the last end."""

    @property
    def marked(self) -> Marked:
        """Give the part as it is laid out on the tube."""
        return Marked.of(self.chain, self.figures.stretch.value)


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
    chain = chain_of(job, tube.od_mm, figures.free_radius_mm.value)
    marked = Marked.of(chain, figures.stretch.value)
    warnings = (
        *warnings_for(marked, die, tube, figures, unit=unit),
        *clash_warnings(marked, tube.od_mm, keep_out or KeepOut()),
    )
    return Plan(
        job=job.job,
        die=die.die,
        tube=tube.tube,
        lot=job.lot,
        tolerance_deg=job.tolerance_deg,
        bends=bends_of(marked, figures, model, job.tolerance_deg),
        tail_mm=chain.straights_mm[-1],
        cut_length_mm=float(marked.cut_length_mm),
        chain=chain,
        figures=figures,
        rests_on=figures.rests_on,
        warnings=warnings,
        fit=job.fit,
    )


def bends_of(
    marked: Marked, figures: Figures, model: Springback, tolerance_deg: float
) -> tuple[PlannedBend, ...]:
    """Give every bend of a part laid out on the tube, with its mark and its stop angle."""
    # Points give equal bends that differ in the last digits; one stop angle does for those.
    rounded = [round(float(angle), 6) for angle in marked.angles_deg]
    aims = {
        angle: model.aim(bend_angle=angle, tolerance=tolerance_deg)
        for angle in dict.fromkeys(rounded)
    }
    straights, used = marked.straights_mm, marked.used_mm
    return tuple(
        PlannedBend(
            bend=bend + 1,
            mark_mm=float(marked.starts_mm[bend]) - figures.start_offset_mm.value,
            turn_deg=float(marked.turns_deg[bend]),
            bend_angle_deg=float(marked.angles_deg[bend]),
            stop_angle_deg=aims[angle].stop_angle,
            sd_deg=aims[angle].sd,
            free_radius_mm=marked.radius_mm,
            straight_mm=float(straights[bend]),
            start_mm=float(marked.starts_mm[bend]),
            arc_mm=float(used[bend]),
        )
        for bend, angle in enumerate(rounded)
    )


def chain_of(job: Job, od_mm: float, free_radius_mm: float) -> Chain:
    """Give the job's centreline, its straights solved with the radius that the tube will have.

    Raises Refusal with the job's name.
    """
    try:
        return _chain(job, od_mm, free_radius_mm)
    except Refusal as refusal:
        raise Refusal(f"job {job.job}: {refusal}") from refusal


def _chain(job: Job, od_mm: float, free_radius_mm: float) -> Chain:
    if job.points_mm:
        return from_points(job.points_mm, free_radius_mm)
    if job.shape is not None:
        return shape_chain(job.shape, od_mm, free_radius_mm)
    if not job.bends or job.tail_mm is None:
        raise Refusal("give bends with a tail, points or a shape")
    return Chain(
        straights_mm=(*(bend.straight_mm for bend in job.bends), job.tail_mm),
        turns_deg=tuple(bend.turn_deg for bend in job.bends),
        angles_deg=tuple(bend.angle_deg for bend in job.bends),
        radius_mm=free_radius_mm,
    )
