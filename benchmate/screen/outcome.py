"""What a job came to, in text: for the page at its end and for the plain summary."""

from benchmate.screen.snapshot import BenchState, BendSeen

HEAD = "bend   want   bent  hits  in tolerance  stop sd"


def rows(state: BenchState) -> list[tuple[str, BendSeen]]:
    """Give one row of text a bend, in the job's order, with what it tells of."""
    return [(_row(seen), seen) for seen in state.bends]


def totals(state: BenchState) -> list[str]:
    """Give the sentences under the table: bends in tolerance, hits, how the sd fell."""
    bent = [seen for seen in state.bends if seen.verdict is not None]
    if not bent:
        return ["No bend was made."]
    hits = sum(seen.verdict.hits for seen in bent if seen.verdict is not None)
    good = sum(seen.in_tolerance for seen in bent)
    found = [f"{good} of {len(bent)} bends in tolerance, {hits} hits."]
    if len(bent) > 1:
        found.append(
            f"The stop angle's standard deviation went from {bent[0].stop_sd:.2f} "
            f"to {bent[-1].stop_sd:.2f} degrees."
        )
    logged = sum(seen.id is not None for seen in bent)
    lost = len(bent) - logged
    found.append(f"{logged} bends logged." + (f" {lost} not in the log." if lost else ""))
    return found


def _row(seen: BendSeen) -> str:
    if seen.verdict is None:
        return f"{seen.bend:>4} {seen.wanted:6.1f}   not bent"
    verdict = seen.verdict
    word = "yes" if seen.in_tolerance else "no"
    return (
        f"{seen.bend:>4} {seen.wanted:6.1f} {verdict.bend_angle:6.1f}  {verdict.hits:>4}"
        f"  {word:<12}  {seen.stop_sd:7.2f}"
    )
