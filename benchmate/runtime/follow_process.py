"""``watch --follow``: a running bench shown read-only, here, as text, spoken or in a browser."""

import argparse
import shlex
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import IO

from benchmate import places
from benchmate.errors import BenchmateError, Failure, Refusal
from benchmate.screen.client import Happening
from benchmate.screen.following import BenchFound, FollowedBench, one_running, raw_lines
from benchmate.screen.pages.plan_lines import Laid
from benchmate.stream import Done, read_event

LOOPBACK = "127.0.0.1"
PORT = 8000
MISSING = (
    "a browser needs one more package: pip install 'benchmate[browser]' in the program's own "
    "environment; watch --follow shows the same in a terminal, also over SSH"
)
OPEN_TO_ALL = (
    "Whoever reaches this address sees the bench: there is no password and nothing is encrypted. "
    "They can't touch anything. Use it on a network that you trust."
)


def follow(args: argparse.Namespace, *, on_screen: bool) -> int:
    """Show the running bench, of the job named or the only one; until it ends or somebody quits."""
    find = partial(one_running, places.runtime_folders(), args.job)
    bench = find()
    if args.serve is not None:
        return _serve(args.job, *address(args.serve))
    if args.plain:
        return _plain(bench, sys.stdout)
    if args.spoken:
        return _spoken(bench, find)
    return _on_screen(bench, find) if on_screen else _text(bench, sys.stdout)


def address(asked: str) -> tuple[str, int]:
    """Read ``ADDRESS``, ``ADDRESS:PORT`` or ``:PORT``; loopback where no address is named."""
    host, colon, port = asked.rpartition(":")
    if not colon:
        host, port = (asked, "") if not asked.isdigit() else ("", asked)
    if port and not (port.isdigit() and 0 < int(port) < 65536):
        raise Refusal(f"--serve {asked}: '{port}' is no port; write ADDRESS:PORT, as in :{PORT}")
    return host or LOOPBACK, int(port or PORT)


def _on_screen(bench: BenchFound, find: Callable[[], BenchFound]) -> int:
    from benchmate.runtime.screen_process import history_of, planned
    from benchmate.screen.app import BenchApp
    from benchmate.screen.remembered import Remembered
    from benchmate.shop import Shop

    watched = bench.watched
    store = Path(watched.store)

    def plan_of(job: str) -> Laid | None:
        shop = Shop.for_job(Path(watched.shop), job)
        return planned(shop, job, store) if job in shop.jobs else None

    def history(job: str, columns: int, rows: int) -> list[str]:
        shop = Shop.for_job(Path(watched.shop), job)
        return list(history_of(shop, store, simulated=watched.simulated)(job, columns, rows))

    app = BenchApp(
        [watched.job],
        plan_of,
        lambda _job, _bend: (),
        job=watched.job,
        rehearsal=watched.simulated,
        by_hand=False,
        bites=watched.bites,
        cautions=False,
        following=True,
        unit_of=lambda _job: watched.unit,
        history_of=history,
        open_bench=lambda _argv, say: FollowedBench(find, say),
        remembered=Remembered(places.choices_file()),
    )
    return app.run() or 0


def _plain(bench: BenchFound, out: IO[str]) -> int:
    ended = False
    for line in raw_lines(bench):
        out.write(line)
        out.flush()
        ended = '"event": "done"' in line
    return 0 if ended else 1


def _text(bench: BenchFound, out: IO[str]) -> int:
    from benchmate.screen.text.stream_lines import Teller

    teller = Teller(bench.watched.unit)
    out.write(f"Looking on: {bench.watched.job}. Nothing here touches the bench.\n")
    event = None
    for line in raw_lines(bench):
        event = read_event(line)
        if (said := teller.tell(event)) is not None:
            out.write(said + "\n")
            out.flush()
    if isinstance(event, Done):
        return 0
    raise Failure("the bench has ended before the job was done; what it logged is kept")


def _spoken(bench: BenchFound, find: Callable[[], BenchFound]) -> int:
    from benchmate.runtime.spoken_process import watch_spoken
    from benchmate.screen.text.spoken import Speaker

    def opened(say: Callable[[Happening], None]) -> FollowedBench:
        return FollowedBench(find, say)

    speaker = Speaker(bench.watched.job, bench.watched.unit, following=True)
    return watch_spoken(opened, speaker, sys.stdin, sys.stdout)


def _serve(job: str | None, host: str, port: int) -> int:
    try:
        from benchmate.runtime.browser import serve
    except ImportError as error:
        raise Failure(f"{MISSING} ({error})") from error
    asked = [sys.executable, "-P", "-m", "benchmate", "watch", "--follow"]
    command = shlex.join([*asked, *([job] if job else [])])
    if host not in (LOOPBACK, "localhost", "::1"):
        sys.stderr.write(f"benchmate: {OPEN_TO_ALL}\n")
    sys.stderr.write(f"benchmate: http://{host}:{port} shows the bench; Ctrl-C ends this\n")
    try:
        serve(command, host, port)
    except (OSError, BenchmateError) as error:
        raise Failure(f"{host}:{port} can't be served: {error}; name another port") from error
    return 0
