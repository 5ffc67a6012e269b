"""The shop's files, each one read."""

from collections.abc import Iterator

from benchmate.checks.finding import Finding
from benchmate.shop import Shop


def look_at_files(shop: Shop) -> Iterator[Finding]:
    """Say of each file whether it works, and all that is wrong with those that don't."""
    for problem in shop.problems:
        yield Finding("wrong", *problem.parts())
    if shop.good_bench is not None:
        yield Finding("works", str(shop.path / "bench.yaml"))
    for folder, names in (("dies", shop.dies), ("tubes", shop.tubes), ("jobs", shop.jobs)):
        for name in names:
            yield Finding("works", str(shop.path / folder / f"{name}.yaml"))
