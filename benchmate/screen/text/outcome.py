"""What a job came to, in text: for the page at its end and for the plain summary."""

from benchmate.screen.state.bench_state import SAID, BenchState
from benchmate.screen.state.shown_bend import ShownBend
from benchmate.screen.words.amounts import give_or_take, shown_deg, two_sd
from benchmate.stream import Say

HEAD = "bend   want   bent  hits  came out      first stop \u00b1"


_CAME_OUT: dict[Say, str] = {
    "accept": "good",
    "again": "kept short",
    "over": "over-bent",
    "measure": "not measured",
}


def rows(state: BenchState) -> list[tuple[str, ShownBend]]:
    """Give one row of text a bend, in the job's order, with what it tells of."""
    return [(_row(seen), seen) for seen in state.bends]


def totals(state: BenchState) -> list[str]:
    """Give the sentences under the table: bends in tolerance, hits, how the sd fell."""
    bent = [seen for seen in state.bends if seen.verdict is not None]
    if not bent:
        return ["No bend was made."]
    hits = sum(seen.verdict.hits for seen in bent if seen.verdict is not None)
    good = sum(seen.good for seen in bent)
    found = [
        f"{good} of {_bends(len(bent))} in tolerance, {hits} {'hit' if hits == 1 else 'hits'}."
    ]
    if len(bent) > 1:
        found.append(
            f"The first stop was good to \u00b1{two_sd(bent[0].stop_sd)} degrees at the start,"
            f" \u00b1{two_sd(bent[-1].stop_sd)} at the end (19 times in 20)."
        )
    hurt = [seen for seen in bent if seen.fault]
    if hurt:
        which = ", ".join(str(seen.bend) for seen in hurt)
        found.append(
            f"A fault hid the arm in bend {which}: what a fault has touched teaches nothing."
        )
    return [*found, logged_words(state), *tubes_words(state)]


def tubes_words(state: BenchState) -> list[str]:
    """Say how many of the job's tubes are made and how many are scrap; [] for a tube alone."""
    target = state.target
    if target is None or target.tubes < 2:
        return []
    over = state.done and any(
        seen.verdict is not None and seen.verdict.say == "over" for seen in state.bends
    )
    made = target.tube - 1 + (state.done and not over)
    scrapped = target.scrapped + over
    scrap = f", {scrapped} scrapped" if scrapped else ""
    return [f"{made} of {target.tubes} tubes made{scrap}."]


def logged_words(state: BenchState) -> str:
    """Say how many bends are in the log, and whether any is not."""
    bent = [seen for seen in state.bends if seen.verdict is not None]
    logged = sum(seen.id is not None for seen in bent)
    lost = len(bent) - logged
    return f"{_bends(logged)} logged." + (f" {_bends(lost)} not in the log." if lost else "")


def last_words(state: BenchState, *, at_once: bool) -> str:
    """Say what was logged, for whoever left before the job's end; "" where the end has told it."""
    if state.link != "leaving" or state.target is None:
        return ""
    if at_once:
        return f"{state.job}: left at once. The bench ends by itself and logs what it has."
    said = [logged_words(state)]
    seen = state.seen(state.target.bend)
    if seen is not None and seen.verdict is not None:
        verdict = seen.verdict
        found = f"{shown_deg(verdict.bend_angle)} degrees, {give_or_take(verdict.sd)}"
        said.append(f"Bend {seen.bend}, hit {verdict.hits}: {found}: {SAID[verdict.say]}.")
    elif seen is not None and seen.id is not None:
        said.append(f"Bend {seen.bend}: the hit was not finished, and is marked so in the log.")
    return f"{state.job}: {' '.join(said)}"


def _bends(count: int) -> str:
    return f"{count} bend" if count == 1 else f"{count} bends"


def _row(seen: ShownBend) -> str:
    if seen.verdict is None:
        return f"{seen.bend:>4} {seen.wanted:6.1f}   not bent"
    verdict = seen.verdict
    word = _CAME_OUT[verdict.say]
    fault = f"   {seen.fault} fault" if seen.fault else ""
    return (
        f"{seen.bend:>4} {seen.wanted:6.1f} {shown_deg(verdict.bend_angle):>6}  {verdict.hits:>4}"
        f"  {word:<12}  {two_sd(seen.stop_sd):>12}{fault}"
    )
