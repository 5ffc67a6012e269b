"""The figures of the layout: re-planning as bent, trial pieces, and what a whole check costs.

    python tests/bench/layout_figures.py [PARTS]

Each figure stands beside its yardstick of the same run. Times are processor times of this process.
"""

import math
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from unittest import mock

import numpy as np

from benchmate.layout import replan as replan_module
from benchmate.layout.as_bent import AsBent
from benchmate.layout.centreline import Centreline
from benchmate.layout.clash import clashes
from benchmate.layout.plan import SpringbackModel as Model
from benchmate.layout.plan import plan_job
from benchmate.layout.propagation import Spread, propagate
from benchmate.layout.replan import Room, replan
from benchmate.layout.trial_fit import Accuracy, TrialPiece, solve
from benchmate.layout.tube_layout import TubeLayout
from benchmate.shop.keep_out import Box, KeepOut, Plane
from benchmate.shop.parts import Arm, Bench, Die, Job, JobBend, Sensor, Tube
from benchmate.springback import Aim, Springback

ANGLE_SD, MARK_SD, TURN_SD, PROTRACTOR_SD = 0.5, 1.0, 1.0, 0.15
ROOM = Room(hold_mm=40, max_angle_deg=180)
KEEP_OUT = KeepOut(
    planes=(Plane(name="floor", through_mm=(0, 0, -900), facing=(0, 0, 1)),),
    boxes=(
        Box(name="bench", low_mm=(-300, -300, -900), high_mm=(300, 500, -80)),
        Box(name="post", low_mm=(-60, 250, -900), high_mm=(60, 370, 300)),
    ),
)


def tell(line: str) -> None:
    """Write a line."""
    sys.stdout.write(line + "\n")


def random_part(rng: np.random.Generator) -> TubeLayout:
    """Draw a part of 3 to 8 bends."""
    bends = int(rng.integers(3, 9))
    turns = rng.uniform(-180, 180, bends)
    turns[0] = 0
    return TubeLayout.of(
        Centreline(
            tuple(map(float, rng.uniform(80, 400, bends + 1))),
            tuple(map(float, turns)),
            tuple(map(float, rng.uniform(20, 120, bends))),
            100.0,
        )
    )


def bent(
    plan: TubeLayout, rng: np.random.Generator, seen: Callable[[tuple[float, ...]], AsBent]
) -> tuple[float, float]:
    """Bend a part twice with the same errors: to the first plan, and re-planned after each bend.

    Give how far the free end comes from its place either way.
    """
    count = len(plan.angles_deg)
    starts = rng.normal(0, MARK_SD, count)
    turns = rng.normal(0, TURN_SD, count)
    turns[0] = 0.0  # the first bend's plane is the datum
    angles = rng.normal(0, ANGLE_SD, count)
    wanted = plan.stations()[-1, :3, 3]
    first = replace(
        plan,
        starts_mm=plan.starts_mm + starts,
        turns_deg=plan.turns_deg + turns,
        angles_deg=plan.angles_deg + angles,
    ).stations()[-1, :3, 3]
    now, done, true = plan, [], []
    for bend in range(count):
        came = (
            float(now.starts_mm[bend] + starts[bend]),
            float(now.turns_deg[bend] + turns[bend]),
            float(now.angles_deg[bend] + angles[bend]),
        )
        true.append(came)
        as_set = (float(now.starts_mm[bend]), float(now.turns_deg[bend]))
        done.append(seen((*came, *as_set, *rng.normal(0, PROTRACTOR_SD, 2))))
        now = replan(plan, done, ROOM).part
    columns = [np.array(column) for column in zip(*true, strict=True)]
    last = TubeLayout(
        starts_mm=columns[0],
        turns_deg=columns[1],
        angles_deg=columns[2],
        cut_length_mm=now.cut_length_mm,
        radius_mm=plan.radius_mm,
    ).stations()[-1, :3, 3]
    return float(np.linalg.norm(first - wanted)), float(np.linalg.norm(last - wanted))


def angles_and_turns(facts: tuple[float, ...]) -> AsBent:
    """What a protractor finds of bend angle and turn; the mark is believed."""
    _, turn, angle, start_set, _, error, other = facts
    return AsBent(angle_deg=angle + error, turn_deg=turn + other, start_mm=start_set)


def angles_only(facts: tuple[float, ...]) -> AsBent:
    """What a protractor finds of the bend angle; turn and mark are believed."""
    _, _, angle, start_set, turn_set, error, _ = facts
    return AsBent(angle_deg=angle + error, turn_deg=turn_set, start_mm=start_set)


def nothing_but_angles(facts: tuple[float, ...]) -> AsBent:
    """What a protractor finds of the bend angle; of turn and mark nobody knows anything."""
    _, _, angle, _, _, error, _ = facts
    return AsBent(angle_deg=angle + error)


def replanning_that_pays(parts: int) -> None:
    """Count parts whose end is further off than with the first plan kept: by the rule, and not."""
    for rule, what in ((replan_module.PAYS_SDS, "where it pays"), (-1e9, "at every bend")):
        with mock.patch.object(replan_module, "PAYS_SDS", rule):
            rng = np.random.default_rng(7)
            seen = nothing_but_angles
            ends = np.array([bent(random_part(rng), rng, seen) for _ in range(parts)])
        first, after = np.sqrt((ends**2).mean(axis=0))
        worse = float((ends[:, 1] > ends[:, 0] + 1e-6).mean())
        tell(
            f"re-planned {what}, nothing but angles measured: {100 * worse:.0f} of 100 parts worse,"
            f" free end {100 * after / first:.0f} % of the first plan's"
        )


def replanning(parts: int) -> None:
    """Compare the free end's rms error with and without re-planning."""
    for what, seen in (("bend angles and turns", angles_and_turns), ("bend angles", angles_only)):
        rng = np.random.default_rng(2024)
        ends = np.array([bent(random_part(rng), rng, seen) for _ in range(parts)])
        first, after = np.sqrt((ends**2).mean(axis=0))
        tell(
            f"re-planned, {what} measured to {PROTRACTOR_SD} deg: free end rms {after:.2f} mm,"
            f" first plan kept {first:.2f} mm: {100 * after / first:.0f} %"
        )


def trial_pieces(times: int) -> None:
    """Bend a U and an L again and again; how far start offset and radius come out."""
    rng = np.random.default_rng(7)
    tape, protractor, od, radius, offset = 0.5, 0.15, 30.0, 102.0, 14.0

    def piece(angle: float, mark: float, cut: float) -> TrialPiece:
        theta = math.radians(angle)
        near, far = mark + offset, cut - mark - offset - radius * theta
        outer = radius + od / 2

        def taped(length: float) -> float:
            return length + rng.normal(0, tape)

        given = {
            "angle_deg": min(angle + rng.normal(0, protractor), 180.0),
            "mark_mm": taped(mark),
            "cut_length_mm": taped(cut),
            "back_mm": taped(near + outer),
            "far_back_mm": taped(far + outer),
        }
        if angle > 120:
            across = 1 - math.cos(theta)
            given |= {"width_mm": taped(outer * across), "gap_mm": taped((outer - od) * across)}
        return TrialPiece(**given)

    accuracy = Accuracy(length_mm=tape, mark_mm=tape, angle_deg=protractor)
    found = [
        solve([piece(180, 200, 720), piece(90, 200, 580)], od, 100, accuracy) for _ in range(times)
    ]
    offsets = np.array([each.start_offset_mm.value for each in found]) - offset
    radii = np.array([each.free_radius_mm.value for each in found]) / radius - 1
    tell(
        f"two trial pieces, {tape} mm and {protractor} deg: start offset"
        f" rms {np.sqrt((offsets**2).mean()):.2f} mm (said {found[0].start_offset_mm.u:.2f}),"
        f" radius rms {100 * np.sqrt((radii**2).mean()):.2f} %"
        f" (said {100 * found[0].free_radius_mm.u / radius:.2f})"
    )


def bare_kinematics(chain: Centreline) -> np.ndarray:
    """Multiply frames bend by bend, as anyone would first write it in numpy: the yardstick."""
    at, rows = np.eye(4), [np.eye(4)]
    bends = zip(chain.straights_mm, chain.turns_deg, chain.angles_deg, strict=False)
    for straight, turn, angle in bends:
        along = np.eye(4)
        along[0, 3] = straight
        at = at @ along
        rows.append(at)
        roll, theta = math.radians(turn), math.radians(angle)
        rolled, arc = np.eye(4), np.eye(4)
        rolled[1:3, 1:3] = [[math.cos(roll), -math.sin(roll)], [math.sin(roll), math.cos(roll)]]
        arc[:2, :2] = [[math.cos(theta), -math.sin(theta)], [math.sin(theta), math.cos(theta)]]
        arc[:2, 3] = [
            chain.radius_mm * math.sin(theta),
            chain.radius_mm * (1 - math.cos(theta)),
        ]
        at = at @ rolled @ arc
        rows.append(at)
    tail = np.eye(4)
    tail[0, 3] = chain.straights_mm[-1]
    rows.append(at @ tail)
    return np.array(rows)


def long_job(bends: int) -> Job:
    """Give a rising coil of many bends, no two of one angle, that clears the bench."""
    rng = np.random.default_rng(bends)
    angles = np.round(30 + rng.uniform(-1, 1, bends), 2)
    return Job(
        job="coil",
        tube="rail-30",
        die="heron-100",
        tolerance_deg=0.5,
        bends=tuple(
            JobBend(straight_mm=100.0, angle_deg=float(angle), turn_deg=180.0 * (number > 0))
            for number, angle in enumerate(angles)
        ),
        tail_mm=400.0,
    )


@dataclass(frozen=True)
class KnownAims:
    """A springback model whose aims were worked out before, so that the layout's own time shows."""

    model: Springback
    aims: dict[float, Aim]

    def free_radius_mm(self) -> tuple[float, float]:
        return self.model.free_radius_mm()

    def aim(self, bend_angle: float, tolerance: float, hits: tuple = ()) -> Aim:
        return self.aims[bend_angle]


def took(work: Callable[[], object], times: int = 7) -> float:
    """Give the least processor time of several runs, ms."""
    spent = []
    for _ in range(times):
        began = time.process_time()
        work()
        spent.append(time.process_time() - began)
    return 1e3 * min(spent)


def costs() -> None:
    """Time a plan of 100 bends with all its checks, and the growth of the sweep check."""
    die = Die(
        die="heron-100",
        for_od_mm=30,
        centreline_radius_mm=100,
        max_angle_deg=180,
        start_offset_mm=12,
    )
    tube = Tube(
        tube="rail-30",
        od_mm=30,
        wall_mm=2,
        grade="E235",
        yield_strength_mpa=300,
        tensile_strength_mpa=400,
    )
    bench = Bench(bench="here", sensor=Sensor(chip="lsm6dso"), arm=Arm(radius_mm=80))
    model = Springback(bench, die, tube)
    job = long_job(100)

    def whole(by: Model) -> None:
        plan = plan_job(job, die, tube, by, keep_out=KEEP_OUT)
        marked = TubeLayout.of(plan.centreline, plan.parameters.stretch.value)
        propagate(marked, Spread.of(plan.parameters, [bend.sd_deg for bend in plan.bends]))

    plan = plan_job(job, die, tube, model, keep_out=KEEP_OUT)
    bare = took(lambda: bare_kinematics(plan.centreline))
    known = KnownAims(
        model, {bend.bend_angle_deg: model.aim(bend.bend_angle_deg, 0.5) for bend in plan.bends}
    )
    all_checks, without = took(lambda: whole(model)), took(lambda: whole(known))
    tell(
        f"plan of 100 bends with all checks: {without:.1f} ms; bare kinematics {bare:.2f} ms:"
        f" {without / bare:.1f} x; {all_checks:.1f} ms ({all_checks / bare:.1f} x) with"
        f" {len(known.aims)} different stop angles worked out as well"
    )
    sizes = (25, 50, 100, 200)
    parts = [TubeLayout.of(plan_job(long_job(size), die, tube, model).centreline) for size in sizes]
    spent = [took(lambda part=part: clashes(part, 30.0, KEEP_OUT)) for part in parts]
    grows = np.polyfit(np.log(sizes), np.log(spent), 1)[0]
    told = ", ".join(f"{size}: {ms:.1f} ms" for size, ms in zip(sizes, spent, strict=True))
    tell(f"sweep check by bends, {told}; grows as bends to the power {grows:.2f}")


def main() -> None:
    parts = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    replanning(parts)
    replanning_that_pays(parts)
    trial_pieces(parts)
    costs()


if __name__ == "__main__":
    main()
