"""Looking on at a running bench: who comes late, is slow or goes costs the bench nothing."""

import queue
import socket
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from benchmate import stream
from benchmate.bench.followers import Followers, RunSoFar
from benchmate.bench.writers import BACKLOG
from benchmate.errors import Failure
from benchmate.screen.client import Ended, Happening, Started
from benchmate.screen.following import FollowedBench, one_running, running_benches

JOB = stream.Watched(job="gate", simulated=False)
LIMIT_S = 10.0


def target(bend: int = 1, hit: int = 1) -> stream.Target:
    return stream.Target(
        bend=bend,
        hit=hit,
        bend_angle=90.0,
        stop_angle=93.4,
        sd=0.6,
        tolerance=0.5,
        bends=3,
        over_angle=94.0,
    )


def reading(t: float) -> stream.Reading:
    return stream.Reading(
        t=t, arm=1.0, rate=0.0, sd=0.1, to_go=92.4, phase="bending", cue="pump", strokes=30.0
    )


@pytest.fixture
def followers(tmp_path: Path) -> Iterator[Followers]:
    with Followers([tmp_path / "run"], JOB) as made:
        yield made


def connected(followers: Followers) -> socket.socket:
    connection = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    connection.settimeout(LIMIT_S)
    connection.connect(str(followers.path))
    return connection


def test_who_comes_late_is_told_the_run_so_far_and_then_what_comes(followers: Followers) -> None:
    verdict = stream.Verdict(say="accept", bend_angle=89.9, sd=0.1, bend=1, hits=1)
    for event in (target(), reading(1.0), verdict, target(2), reading(2.0)):
        followers.hear(event)
    with connected(followers) as connection, connection.makefile("r") as lines:
        told = [stream.read_event(lines.readline()) for _ in range(5)]
        assert told == [JOB, target(), verdict, target(2), reading(2.0)]
        followers.hear(reading(3.0))
        assert stream.read_event(lines.readline()) == reading(3.0)


def test_the_socket_is_the_users_alone(followers: Followers) -> None:
    path = followers.path
    assert path is not None
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_one_that_never_reads_holds_nobody_up(followers: Followers) -> None:
    with connected(followers), connected(followers) as reads, reads.makefile("r") as lines:
        assert stream.read_event(lines.readline()) == JOB
        # Far more than a socket and a queue take of what nobody reads.
        for number in range(40 * BACKLOG):
            followers.hear(reading(float(number)))
        followers.hear(target())
        told = stream.read_event(lines.readline())
        while told != target():
            told = stream.read_event(lines.readline())
        followers.close()
        assert lines.readline() == ""


def test_one_that_goes_is_forgotten(followers: Followers) -> None:
    with connected(followers) as connection, connection.makefile("r") as lines:
        lines.readline()
    for number in range(3 * BACKLOG):
        followers.hear(reading(float(number)))
    with connected(followers) as again, again.makefile("r") as lines:
        assert stream.read_event(lines.readline()) == JOB


def test_what_a_follower_sends_is_not_heard(followers: Followers) -> None:
    with connected(followers) as connection, connection.makefile("rw") as lines:
        lines.readline()
        lines.write("zero\nskip\n")
        lines.flush()
        followers.hear(target())
        assert stream.read_event(lines.readline()) == target()


def test_a_socket_left_by_a_killed_bench_is_taken_away_and_a_running_ones_stays(
    followers: Followers, tmp_path: Path
) -> None:
    stale = tmp_path / "run" / "bench-1.sock"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as left:
        left.bind(str(stale))
    running = tmp_path / "run" / "bench-2.sock"
    assert followers.path is not None
    followers.path.rename(running)
    with Followers([tmp_path / "run"], JOB):
        assert not stale.exists()
        assert running.exists()
    running.unlink()


def test_a_folder_that_cannot_be_had_costs_only_the_looking_on(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with Followers([tmp_path / "file" / "run"], JOB) as nobody:
        nobody.hear(target())
        assert nobody.path is None
    with Followers([tmp_path / "file" / "run", tmp_path / "second"], JOB) as second:
        assert second.path is not None
        assert second.path.parent == tmp_path / "second"


def test_a_long_run_is_kept_short_without_losing_what_stands() -> None:
    so_far = RunSoFar(most=10)
    fault = stream.Fault(what="signals", detail="no buzzer")
    so_far.hear(fault)
    for bend in range(1, 40):
        so_far.hear(target(bend))
    kept = so_far.events()
    assert fault in kept
    assert kept[-1] == target(39)
    assert len(kept) <= 12


def follow(folder: Path, job: str | None = None) -> tuple[FollowedBench, Callable[[], Happening]]:
    said: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    bench = FollowedBench(lambda: one_running([folder], job), said.put)
    return bench, lambda: said.get(timeout=LIMIT_S)


def test_the_screen_of_one_who_looks_on_hears_all_and_says_when_the_bench_is_gone(
    followers: Followers, tmp_path: Path
) -> None:
    followers.hear(target())
    bench, next_said = follow(tmp_path / "run")
    bench.start()
    assert [next_said(), next_said(), next_said()] == [Started(again=False), JOB, target()]
    bench.send("zero")
    followers.close()
    ended = next_said()
    assert isinstance(ended, Ended)
    assert (ended.status, ended.again) == (1, False)
    assert "has ended" in ended.complaint
    bench.start()
    gone = next_said()
    assert isinstance(gone, Ended)
    assert "no bench is running" in gone.complaint


def test_leaving_lets_the_bench_go_on(followers: Followers, tmp_path: Path) -> None:
    bench, next_said = follow(tmp_path / "run")
    bench.start()
    assert [next_said(), next_said()] == [Started(again=False), JOB]
    bench.hang_up()
    assert next_said() == Ended(status=0, complaint="", again=False)
    assert bench.wait(LIMIT_S)
    followers.hear(target())
    assert [each.watched for each in running_benches([tmp_path / "run"])] == [JOB]


def test_a_job_that_no_bench_works_on_is_refused_with_those_that_are(
    followers: Followers, tmp_path: Path
) -> None:
    with pytest.raises(Failure, match=r"no bench works on door: running is gate"):
        one_running([tmp_path / "run"], "door")
