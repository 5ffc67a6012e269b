"""From a written job to marks, turns, bend angles, stop angles, cut length and warnings."""

from dataclasses import dataclass, replace
from typing import Protocol

from benchmate.errors import Refusal
from benchmate.layout.centreline import Centreline, from_points
from benchmate.layout.clash_warnings import clash_warnings
from benchmate.layout.feasibility import warnings_for
from benchmate.layout.parameters import (
    BendParameters,
    RestsOn,
    TrialFound,
    UncertainValue,
    parameters_for,
)
from benchmate.layout.shape_geometry import shape_centreline
from benchmate.layout.tube_layout import TubeLayout
from benchmate.shop.keep_out import KeepOut
from benchmate.shop.parts import Die, Job, Tube
from benchmate.springback.bend import Aim
from benchmate.units import LengthUnit, show_length


class SpringbackModel(Protocol):
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
    expected_angle_deg: float
    """What the first press to the stop angle is expected to give; short on purpose where little is
    known."""
    expected_sd_deg: float
    free_radius_mm: float
    straight_mm: float
    """The straight before this bend, tangent point to tangent point."""
    start_mm: float
    """Start of bend."""
    arc_mm: float
    """Tube that the arc uses."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A job laid out on the tube, with what the parameters rest on and what to look out for."""

    job: str
    die: str
    tube: str
    lot: str
    tolerance_deg: float
    bends: tuple[PlannedBend, ...]
    tail_mm: float
    cut_length_mm: float
    centreline: Centreline
    parameters: BendParameters
    rests_on: tuple[RestsOn, ...]
    warnings: tuple[str, ...]
    count: int = 1
    """How many of the part are to be made."""
    fit: tuple[int, ...] = ()
    """Points that matter most, as the job numbers them; empty: the last end."""

    @property
    def layout(self) -> TubeLayout:
        """Give the part as it is laid out on the tube."""
        return TubeLayout.of(self.centreline, self.parameters.stretch.value)


def plan_job(
    job: Job,
    die: Die,
    tube: Tube,
    model: SpringbackModel,
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
    parameters = parameters_for(die, tube, UncertainValue(*model.free_radius_mm()), found)
    centreline = centreline_of(job, tube.od_mm, parameters.free_radius_mm.value, unit)
    if job.cut_mm is not None:
        centreline = fitted_to_cut(job, centreline, parameters.stretch.value, unit)
    layout = TubeLayout.of(centreline, parameters.stretch.value)
    warnings = (
        *_written(job, len(centreline.angles_deg)),
        *warnings_for(layout, die, tube, parameters, unit=unit),
        *clash_warnings(layout, tube.od_mm, keep_out or KeepOut()),
    )
    return Plan(
        job=job.job,
        die=die.die,
        tube=tube.tube,
        lot=job.lot,
        tolerance_deg=job.tolerance_deg,
        bends=bends_of(layout, parameters, model, job.tolerance_deg),
        tail_mm=centreline.straights_mm[-1],
        cut_length_mm=float(layout.cut_length_mm),
        centreline=centreline,
        parameters=parameters,
        rests_on=parameters.rests_on,
        warnings=warnings,
        count=job.count,
        fit=_fit(job, len(centreline.angles_deg)),
    )


def fitted_to_cut(
    job: Job, part: Centreline, stretch: float, unit: LengthUnit = "mm"
) -> Centreline:
    """Give the part on tube that is cut already: end straights take the difference.

    The job says which. Raises Refusal where the tube is too short for that.
    """
    takes = float(TubeLayout.of(part, stretch).cut_length_mm)
    spare = (job.cut_mm or takes) - takes
    first, *middle, last = part.straights_mm
    shares = {"first": (spare, 0.0), "last": (0.0, spare), "both": (spare / 2, spare / 2)}[job.give]
    if job.other_end:
        shares = shares[::-1]
    ends = first + shares[0], last + shares[1]
    if min(ends) < 0:
        raise Refusal(
            f"job {job.job}: a tube of {show_length(job.cut_mm or 0.0, unit)} is"
            f" {show_length(-spare, unit)} shorter than the part, more than the"
            f" {job.give} end{'s' if job.give == 'both' else ''} can give; cut it longer"
        )
    return replace(part, straights_mm=(ends[0], *middle, ends[1]))


def _written(job: Job, bends: int) -> tuple[str, ...]:
    """Say what of the job as written is not laid out just so."""
    said = []
    if job.other_end:
        said.append(
            f"laid out from the other end: bend 1 is bend {bends} of the job's file, and marks are"
            " measured from the end that the file has last"
        )
    if job.bends and job.bends[0].turn_deg:
        said.append(
            f"the turn of {job.bends[0].turn_deg:g} deg written on bend 1 is left out: turns are"
            " counted from the first bend, and nothing is turned for it"
        )
    return tuple(said)


def _fit(job: Job, bends: int) -> tuple[int, ...]:
    last = bends + 2
    return tuple(last + 1 - point for point in job.fit) if job.other_end else job.fit


def is_laid_out(job: Job) -> bool:
    """Say whether the job is a part with marks, and no bend asked for on the command line."""
    return not (job.bends and job.bends[0].straight_mm == 0.0)


def bends_of(
    layout: TubeLayout, parameters: BendParameters, model: SpringbackModel, tolerance_deg: float
) -> tuple[PlannedBend, ...]:
    """Give every bend of a part laid out on the tube, with its mark and its stop angle."""
    # Points give equal bends that differ in the last digits; one stop angle does for those.
    rounded = [round(float(angle), 6) for angle in layout.angles_deg]
    aims = {
        angle: model.aim(bend_angle=angle, tolerance=tolerance_deg)
        for angle in dict.fromkeys(rounded)
    }
    straights, used = layout.straights_mm, layout.used_mm
    return tuple(
        PlannedBend(
            bend=bend + 1,
            mark_mm=float(layout.starts_mm[bend]) - parameters.start_offset_mm.value,
            turn_deg=float(layout.turns_deg[bend]),
            bend_angle_deg=float(layout.angles_deg[bend]),
            stop_angle_deg=aims[angle].stop_angle,
            sd_deg=aims[angle].sd,
            expected_angle_deg=aims[angle].expected,
            expected_sd_deg=aims[angle].stop_sd,
            free_radius_mm=layout.radius_mm,
            straight_mm=float(straights[bend]),
            start_mm=float(layout.starts_mm[bend]),
            arc_mm=float(used[bend]),
        )
        for bend, angle in enumerate(rounded)
    )


def centreline_of(
    job: Job, od_mm: float, free_radius_mm: float, unit: LengthUnit = "mm"
) -> Centreline:
    """Give the job's centreline, its straights solved with the radius that the tube will have.

    Turns are counted from the first bend, whose own is 0; a job bent from its other end comes with
    its last bend first. Raises Refusal with the job's name, lengths in ``unit``.
    """
    try:
        written = _written_centreline(job, od_mm, free_radius_mm, unit)
    except Refusal as refusal:
        raise Refusal(f"job {job.job}: {refusal}") from refusal
    written = replace(written, turns_deg=(0.0, *written.turns_deg[1:]))
    return written.reversed() if job.other_end else written


def _written_centreline(
    job: Job, od_mm: float, free_radius_mm: float, unit: LengthUnit
) -> Centreline:
    if job.points_mm:
        return from_points(job.points_mm, free_radius_mm)
    if job.shape is not None:
        return shape_centreline(job.shape, od_mm, free_radius_mm, unit)
    if not job.bends or job.tail_mm is None:
        raise Refusal("give bends with a tail, points or a shape")
    return Centreline(
        straights_mm=(*(bend.straight_mm for bend in job.bends), job.tail_mm),
        turns_deg=tuple(bend.turn_deg for bend in job.bends),
        angles_deg=tuple(bend.angle_deg for bend in job.bends),
        radius_mm=free_radius_mm,
    )
