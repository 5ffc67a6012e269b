"""A die's page in words: what it is, has proven, may be asked next, and what is known of it."""

import math
import time
from collections.abc import Sequence

from benchmate.errors import Refusal
from benchmate.shop import Shop
from benchmate.shop.parts import Die, Tube
from benchmate.shop.tables import misfits
from benchmate.shop.tooling import RuleSet
from benchmate.springback.prior import SLACK, Setup
from benchmate.tooling.bounds import Bounds
from benchmate.tooling.forming import broken_rules, forming_of, free_radius_od
from benchmate.tooling.groove import fit_of
from benchmate.tooling.history import Event, History
from benchmate.tooling.limits import Limit, bushing_slack_deg, limits_of, untold
from benchmate.tooling.load import moment_of
from benchmate.tooling.proven import (
    SAME,
    STEP,
    LoadAsked,
    ladder,
    largest,
    look_at,
)
from benchmate.tooling.series import share_of
from benchmate.tooling.trials import Trial, moved
from benchmate.units import LengthUnit, show_about, show_length
from benchmate.wording import nearest, printable

DECIDES = (
    "These are sums on what was written, between bounds; they prove no die. benchmate advises: the"
    " governing rule book, the drawing and licensed practice decide, and the person at the pump"
    " stands clear of die, tube and line of the bolts."
)


def page(
    history: History,
    shop: Shop,
    wanted: LoadAsked | None,
    *,
    unit: LengthUnit,
    step: float = STEP,
    job: str | None = None,
) -> list[str]:
    """Tell all that is known of a die, a line each."""
    die = history.die
    return [
        *_what(die, unit),
        *(["", _retired(history)] if history.retired else []),
        "",
        *_carried(history),
        *(_asked(history, shop, wanted, step=step, job=job or "") if wanted else []),
        *_limits(history, shop, wanted),
        "",
        *_known(history, unit),
        *_events(history.events, unit),
        *_untold(die),
        "",
        DECIDES,
    ]


def warnings_for(
    history: History, wanted: LoadAsked, step: float = STEP, unit: LengthUnit = "mm"
) -> list[str]:
    """Give what a person should know before asking this of the die, a plain sentence each."""
    die = history.die
    said = []
    if history.retired:
        said.append(_retired(history))
    if history.cracks:
        said.append(f"die {die.die}: cracks were seen ({history.cracks}); don't bend on it")
    said += _against_proven(history, wanted, step) if wanted.proven is not None else []
    said += [
        f"die {die.die}, {limit.part}: {_span(limit)}: {limit.says}"
        for limit in wanted.limits
        if limit.ratio > 1
    ]
    if history.changed is not None:
        said.append(drifted(history))
    return [*said, *_moved(history, unit)]


def yes_needed(history: History, wanted: LoadAsked, step: float = STEP) -> bool:
    """Say whether the person should say yes before the first pump."""
    return wanted.asks(step) or history.retired or bool(history.cracks)


def tube_warnings(shop: Shop, die: Die, tube_name: str) -> list[str]:
    """Say what the tube's fit and forming limits are a warning of."""
    tube = shop.tube(tube_name)
    said = []
    if die.groove is not None:
        fit = fit_of(tube, die.groove)
        if fit.says != "fits":
            said.append(
                f"tube {tube.tube} in the groove of {die.groove.width_mm:g} mm, clearance"
                f" {fit.clearance_mm.low:.2f} to {fit.clearance_mm.high:.2f} mm: {fit.says}"
                f" ({fit.source})"
            )
    forming = forming_of(tube, die.centreline_radius_mm)
    for what, risk in (("a wrinkle inside", forming.wrinkle), ("a kink", forming.kink)):
        if risk == "likely":
            said.append(
                f"{what} is likely: diameter over wall {forming.slimness:.1f} on a radius of"
                f" {forming.radius_od:.1f} diameters (common practice, no source)"
            )
    return said


def tube_told(
    shop: Shop, die: Die, tube_name: str, rules: Sequence[str] | None = None
) -> list[str]:
    """Tell what bending does to the tube, and which rules that breaks or may; None: any rules.

    Refusal for rules that nobody has written down.
    """
    forming = forming_of(shop.tube(tube_name), die.centreline_radius_mm)
    sets = () if rules is not None and not rules else shop.rules()
    if rules is not None:
        sets = tuple(_rule_set(name, sets) for name in rules)
    return [
        f"the tube: wall outside {_percent(forming.wall_outside)} of what it was, inside"
        f" {_percent(forming.wall_inside)}; ovality {forming.ovality_pct.low:.1f} to"
        f" {forming.ovality_pct.high:.1f} %; risk of a wrinkle {forming.wrinkle}, of a kink"
        f" {forming.kink}{_free(shop.tube(tube_name))}",
        *(broken.says() for broken in broken_rules(forming, sets)),
    ]


def _free(tube: Tube) -> str:
    free = free_radius_od(tube)
    if free is None:
        return "; only the groove keeps it from buckling"
    return f"; bent free it would buckle under {free:.0f} outside diameters, so the groove must fit"


def _rule_set(name: str, sets: Sequence[RuleSet]) -> RuleSet:
    known = {each.rules: each for each in sets}
    if name not in known:
        close = nearest(name, known)
        there = f"did you mean {close}?" if close else f"there are {', '.join(known)}"
        raise Refusal(f"no rules '{printable(name, 60)}' in the shop's rules/; {there}")
    return known[name]


def steps_to(history: History, shop: Shop, tube_name: str, step: float = STEP) -> list[str]:
    """Propose a ladder of tubes to a load past what is proven, with what to look at."""
    proven = largest(history.carried)
    if proven is None:
        return [
            "nothing is proven yet: begin with the tube that asks least of it, and look after each",
            *(f"  look at {each}" for each in look_at(history.die)),
        ]
    die, tube = history.die, shop.tube(tube_name)
    rack = [each for each in shop.tubes.values() if misfits(each, die) is None]
    rungs = ladder(die, tube, rack, proven.load.moment_nmm, step)
    if len(rungs) == 1:
        return [
            f"the rack has no tube between {printable(proven.tube.tube)} and this one; if you go"
            " on, pump slowly, stop when anything opens or creaks, and after one piece look at:",
            *(f"  {each}" for each in look_at(die)),
        ]
    lines = ["bend these first, in this order, one piece each:"]
    for number, rung in enumerate(rungs, 1):
        far = "" if rung.over <= 1 + step else "; the rack has nothing between"
        lines.append(
            f"  {number}. {printable(rung.tube.tube)}: {_nm(rung.moment_nmm)},"
            f" {rung.over:.2f} times the one before{far}"
        )
    return [*lines, "after each look at:", *(f"  {each}" for each in look_at(die))]


def drifted(history: History) -> str:
    """Say what changed, since which bend, and what usually causes it."""
    found = history.changed
    if found is None:
        return f"die {history.die.die}: no drift is seen"
    drift = found.drift
    way = "more" if drift.size_deg > 0 else "less"
    return (
        f"die {history.die.die} looks changed since bend {drift.since_seq}: its {found.of} is"
        f" {abs(drift.size_deg):.2f} ± {2 * drift.sd_deg:.2f} deg {way} than before; usually"
        f" {found.causes}. Look at it and write down what you find: benchmate die"
        f" {history.die.die} inspect"
    )


def _what(die: Die, unit: LengthUnit) -> list[str]:
    ratio = die.centreline_radius_mm / die.for_od_mm
    made = []
    if die.core is not None:
        filled = f", {die.core.infill_pct:g} % filled" if die.core.infill_pct < 100 else ""
        walls = f", {die.core.walls} walls" if die.core.walls else ""
        made.append(f"core of {die.core.material}{filled}{walls}")
    if die.plates is not None:
        made.append(
            f"plates of {die.plates.material}, {show_length(die.plates.thickness_mm, unit)}"
        )
    for bolts in die.bolts:
        where = f" at {show_length(bolts.radius_mm, unit)}" if bolts.radius_mm else ""
        made.append(f"{bolts.count} bolts {bolts.size} {bolts.grade}, {bolts.hold}{where}")
    if die.groove is not None:
        made.append(f"groove {show_length(die.groove.width_mm, unit)} wide")
    return [
        f"die {die.die}: for tube of {show_length(die.for_od_mm, unit)}, radius"
        f" {show_length(die.centreline_radius_mm, unit)} ({ratio:.1f} outside diameters)",
        *([f"made of: {'; '.join(made)}"] if made else []),
    ]


def _retired(history: History) -> str:
    event = next(each for each in reversed(history.events) if each.what == "retire")
    note = event.told.get("note")
    return f"die {history.die.die} is retired since {_day(event)}" + (f": {note}" if note else "")


def _carried(history: History) -> list[str]:
    if not history.carried:
        before = (
            "; what it carried before it was made anew proves nothing" if history.before else ""
        )
        return [f"proven: nothing; no bend is logged on it as it is{before}"]
    rows = [("tube", "lot", "bends", "to", "moment", "follower")]
    for each in sorted(history.carried, key=lambda one: -one.load.moment_nmm):
        rows.append(
            (
                printable(each.tube.tube, 40),
                printable(each.lot, 20) or "-",
                str(each.bends),
                f"{each.load.angle_deg:.0f} deg",
                _nm(each.load.moment_nmm),
                _kn(each.load.follower_n),
            )
        )
    proven = largest(history.carried)
    assert proven is not None  # noqa: S101 - it isn't empty
    day = history.when.get(proven.last_seq)
    when = f", last on {_date(day)}" if day is not None else ""
    return [
        *_columns(rows),
        f"proven: {_nm(proven.load.moment_nmm)} by {printable(proven.tube.tube)}{when}; moments by"
        " the tubes' written strengths",
    ]


def _asked(history: History, shop: Shop, wanted: LoadAsked, *, step: float, job: str) -> list[str]:
    tube = shop.tube(shop.job(job).tube)
    setup = Setup(history.bench, history.die, tube, shop.job(job).lot)
    moment = moment_of(tube, history.die.centreline_radius_mm, share_of(history.knowledge, setup))
    lines = [
        "",
        f"job {printable(job)}: tube {printable(tube.tube)} to {wanted.load.angle_deg:.0f} deg asks"
        f" {_nm(moment.stated)} (the steel itself: {_nm(moment.likely.low)} to"
        f" {_nm(moment.likely.high)}, 19 times in 20), follower {_kn(wanted.load.follower_n)}",
        f"state: {wanted.state}",
        *_against_proven(history, wanted, step),
        *tube_warnings(shop, history.die, tube.tube),
        *tube_told(shop, history.die, tube.tube),
    ]
    if wanted.asks(step) or wanted.proven is None:
        lines += steps_to(history, shop, tube.tube, step)
    return [lines[0], *(printable(line, 400) for line in lines[1:])]


def _against_proven(history: History, wanted: LoadAsked, step: float) -> list[str]:
    name = history.die.die
    if wanted.ratio is None or wanted.proven is None:
        return [f"die {name} has proven nothing yet: this would be its first bend on record"]
    proven, learned = wanted.proven, wanted.learned_ratio or wanted.ratio
    if wanted.ratio <= 1 + SAME:
        if learned <= 1 + step:
            return []
        return [
            f"die {name}: by the tubes' strengths this asks no more than it has carried, but by"
            f" what their springback has taught {learned:.2f} times as much"
        ]
    past = max(wanted.ratio, learned) > 1 + step
    how = "more than the step that needs no yes" if past else "within a step"
    taught = ""
    if abs(learned / wanted.ratio - 1) > SAME:
        taught = f" ({learned:.2f} times by what their springback has taught)"
    return [
        f"die {name} has proven {_nm(proven.load.moment_nmm)} by tube {proven.tube.tube}; this asks"
        f" {_nm(wanted.load.moment_nmm)} by the tubes' strengths, {wanted.ratio:.2f} times as"
        f" much{taught}: {how}"
    ]


def _limits(history: History, shop: Shop, wanted: LoadAsked | None) -> list[str]:
    proven = largest(history.carried)
    if wanted is not None:
        limits, of = wanted.limits, "for this job"
        assumed = wanted.load.assumed
    elif proven is not None:
        limits, of = limits_of(history.die, proven.load, shop.materials), "at the proven load"
        assumed = proven.load.assumed
    else:
        return []
    if not limits:
        return []
    rows = [("part", "asked", "bears", "says")]
    rows += [(limit.part, *_two(limit), limit.says) for limit in limits]
    notes = [f"  {limit.part}: {limit.note}" for limit in limits if limit.note]
    sources = list(dict.fromkeys(limit.source for limit in limits))
    return [
        "",
        f"limits {of}, each between the least and the most that it can be:",
        *_columns(rows),
        *notes,
        *(f"  bears: {source}" for source in sources),
        *(f"  assumed: {each}" for each in assumed),
    ]


def _known(history: History, unit: LengthUnit) -> list[str]:
    lines = []
    bends = history.bends
    if bends and bends[-1].bench is not None:
        last = bends[-1]
        setup = Setup(history.bench, last.die, last.tube, last.lot)
        mean, cov = history.knowledge.of(setup)
        sd = math.sqrt(float(cov[SLACK, SLACK]))
        lines.append(f"slack {mean[SLACK]:.2f} ± {2 * sd:.2f} deg, from {len(bends)} bends")
    play = bushing_slack_deg(history.die)
    if play is not None:
        lines.append(f"of it up to {play:.2f} deg the pivot's play")
    lines += [_trial(each, unit) for each in history.trials[-5:]]
    return [*lines, drifted(history), *_moved(history, unit)]


def _trial(trial: Trial, unit: LengthUnit) -> str:
    radius = show_length(trial.free_radius_mm, unit)
    return (
        f"{_date(trial.wall_s)}: start offset {show_length(trial.start_offset_mm, unit)} ±"
        f" {show_about(2 * trial.start_offset_u_mm, unit)}, radius after springback {radius} ±"
        f" {show_about(2 * trial.free_radius_u_mm, unit)}, trial pieces of {printable(trial.tube)}"
    )


def _moved(history: History, unit: LengthUnit) -> list[str]:
    found = moved(history.trials)
    if found is None:
        return []
    way = "further on" if found.by_mm > 0 else "further back"
    return [
        f"die {history.die.die}: its start of bend has moved"
        f" {show_length(abs(found.by_mm), unit)} {way} since the trial of"
        f" {_date(found.since.wall_s)}: usually the die or its stop shifted on the frame, or the"
        " groove's start is worn; measure trial pieces anew"
    ]


def _events(events: Sequence[Event], unit: LengthUnit) -> list[str]:
    if not events:
        return []
    return ["", "on record:", *(f"  {printable(_event(each, unit), 300)}" for each in events)]


def _event(event: Event, unit: LengthUnit) -> str:
    told = event.told
    said = []
    if parts := told.get("parts"):
        said.append(f"{', '.join(parts)} made anew")
    for key, word in (("groove_mm", "groove"), ("depth_mm", "depth")):
        if readings := told.get(key):
            said.append(f"{word} {', '.join(show_length(each, unit) for each in readings)}")
    if told.get("torqued"):
        moved = told.get("moved")
        said.append("bolts tightened anew" + (f", {moved} had let go" if moved else ""))
    if "cracks" in told:
        said.append(f"cracks: {told['cracks']}" if told["cracks"] else "no cracks")
    if told.get("photo"):
        said.append(f"photo {told['photo']}")
    if told.get("note"):
        said.append(str(told["note"]))
    return f"{_day(event)}  {event.what}: {'; '.join(said) or '-'}"


def _untold(die: Die) -> list[str]:
    missing = untold(die)
    if not missing:
        return []
    return ["", "not written in the die's file, so not told:", *(f"  {each}" for each in missing)]


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def _two(limit: Limit) -> tuple[str, str]:
    return _amount(limit.demand, limit.unit), _amount(limit.capacity, limit.unit)


def _span(limit: Limit) -> str:
    asked, bears = _two(limit)
    return f"{asked} asked, bears {bears}"


def _amount(bounds: Bounds, unit: str) -> str:
    if unit == "N":
        return _kn(bounds)
    if math.isclose(bounds.low, bounds.high):
        return f"{bounds.high:.3g} {unit}"
    return f"{bounds.low:.2g} to {bounds.high:.2g} {unit}"


def _kn(bounds: Bounds) -> str:
    low, high = (each / 1000 for each in bounds)
    return f"{high:.1f} kN" if math.isclose(low, high) else f"{low:.1f} to {high:.1f} kN"


def _nm(moment_nmm: float) -> str:
    return f"{moment_nmm / 1000:.0f} N m"


def _percent(bounds: Bounds) -> str:
    return f"{100 * bounds.low:.0f} to {100 * bounds.high:.0f} %"


def _day(event: Event) -> str:
    return _date(event.wall_s) + ("" if event.clock_synchronised else " (clock not set)")


def _date(wall_s: float) -> str:
    return time.strftime("%Y-%m-%d", time.localtime(wall_s))
