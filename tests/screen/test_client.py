import sys
import threading
from collections.abc import Callable

import pytest

from benchmate.screen.client import BenchProcess, Ended, Started
from benchmate.stream import Done, Fault, Peak, Reading, Unfinished, write_event

PEAKS = [Peak(arm=float(number)) for number in range(500)]


class Heard:
    """Keeps what a bench said; can be waited for."""

    def __init__(self) -> None:
        self.all: list[object] = []
        self._more = threading.Condition()

    def __call__(self, happening: object) -> None:
        with self._more:
            self.all.append(happening)
            self._more.notify_all()

    def until(self, found: Callable[[list[object]], bool]) -> list[object]:
        with self._more:
            assert self._more.wait_for(lambda: found(self.all), timeout=20), self.all
            return list(self.all)

    def ended(self, times: int = 1) -> list[object]:
        return self.until(lambda all_: sum(isinstance(each, Ended) for each in all_) >= times)


@pytest.fixture
def heard() -> Heard:
    return Heard()


@pytest.fixture
def run(heard, clock):
    """Start a bench that runs this Python text."""
    started = []

    def start(script: str, restarts: int = 3) -> BenchProcess:
        bench = BenchProcess(lambda: [sys.executable, "-c", script], heard, clock, restarts)
        started.append(bench)
        bench.start()
        return bench

    yield start
    for bench in started:
        bench.hang_up()
        assert bench.wait(20)


def lines(*events) -> str:
    """Python text that writes these events at once."""
    text = "".join(write_event(event) + "\n" for event in events)
    return f"import sys; sys.stdout.write({text!r}); sys.stdout.flush()\n"


def test_every_event_comes_in_order_and_readings_stay_in_the_box(run, heard, say):
    readings = [say.reading(float(at), t=float(at)) for at in range(500)]
    mixed = [event for pair in zip(PEAKS, readings, strict=True) for event in pair]
    hold = "sys.stdin.read()\n"
    bench = run(lines(*mixed, Done()) + hold)
    said = heard.until(lambda all_: Done() in all_)
    assert said == [Started(again=False), *PEAKS, Done()]
    assert bench.latest() == readings[-1]
    bench.hang_up()
    assert heard.ended()[-1] == Ended(status=0, complaint="", again=False)
    assert bench.latest() is None


def test_commands_reach_the_bench_a_line_each(run, heard):
    echo = (
        "import sys, json\n"
        "for line in sys.stdin:\n"
        "    print(json.dumps({'event': 'fault', 'what': 'command', 'detail': line.strip()}),"
        " flush=True)\n"
    )
    bench = run(echo)
    heard.until(lambda all_: Started(again=False) in all_)
    bench.send("zero")
    bench.send("measured 89.5")
    said = heard.until(lambda all_: len(all_) == 3)
    assert said[1:] == [
        Fault(what="command", detail="zero"),
        Fault(what="command", detail="measured 89.5"),
    ]


def test_hanging_up_lets_the_bench_finish_what_it_is_at(run, heard):
    finish = "sys.stdin.read()\n" + lines(Peak(arm=93.5), Done())
    bench = run("import sys\n" + finish)
    heard.until(lambda all_: Started(again=False) in all_)
    bench.hang_up()
    assert heard.ended()[1:] == [
        Peak(arm=93.5),
        Done(),
        Ended(status=0, complaint="", again=False),
    ]


def test_a_bench_that_dies_says_its_last_words_and_is_started_again(run, heard, say):
    run(lines(say.reading(1.0)) + "sys.exit('the bus is gone')", restarts=2)
    assert heard.ended(3) == [
        Started(again=False),
        Ended(status=1, complaint="the bus is gone", again=True),
        Started(again=True),
        Ended(status=1, complaint="the bus is gone", again=True),
        Started(again=True),
        Ended(status=1, complaint="the bus is gone", again=False),
    ]


def test_a_bench_that_ends_before_it_says_anything_is_not_tried_again(run, heard):
    run("import sys; sys.exit('another bench has the store')")
    assert heard.ended() == [
        Started(again=False),
        Ended(status=1, complaint="another bench has the store", again=False),
    ]


def test_a_run_left_unfinished_is_said(run, heard):
    line = (
        '{"event": "unfinished", "run": "r", "bend": 2, "hits": 1, "arm": 86.0, "hours": 0.4,'
        ' "job_changed": false}'
    )
    run(f"print({line!r}, flush=True)")
    assert heard.ended()[1] == Unfinished(
        run="r", bend=2, hits=1, arm=86.0, hours=0.4, job_changed=False
    )


def test_restarts_of_a_minute_ago_no_longer_count(run, heard, clock, say):
    bench = run(lines(say.reading(1.0)) + "sys.exit(1)", restarts=1)
    assert heard.ended(2)[-1] == Ended(status=1, complaint="", again=False)
    assert bench.wait(20)
    clock.sleep(61.0)
    bench.start()
    again = heard.ended(4)
    assert [each.again for each in again if isinstance(each, Ended)] == [True, False, True, False]


def test_a_killed_bench_is_started_again(run, heard, say):
    run(
        lines(say.reading(1.0)) + "import os, signal; os.kill(os.getpid(), signal.SIGKILL)",
        restarts=1,
    )
    first, second = (each for each in heard.ended(2) if isinstance(each, Ended))
    assert (first.status, first.again, second.again) == (-9, True, False)


def test_a_refusal_is_not_tried_again(run, heard):
    run("import sys; print('no such job', file=sys.stderr); sys.exit(2)")
    assert heard.ended()[-1] == Ended(status=2, complaint="no such job", again=False)


def test_a_program_that_does_not_exist_is_said_and_not_tried_again(heard, clock):
    bench = BenchProcess(lambda: ["/nowhere/at/all"], heard, clock)
    bench.start()
    (ended,) = heard.ended()
    assert (ended.status, ended.again) == (1, False)
    assert "could not be started" in ended.complaint
    assert bench.wait(20)


def test_a_line_that_is_no_event_is_passed_over(run, heard):
    run("print('not json', flush=True)\n" + lines(Peak(arm=1.0)))
    assert Peak(arm=1.0) in heard.ended()


def test_sending_to_a_bench_that_is_gone_does_nothing(run, heard):
    bench = run("pass")
    heard.ended()
    bench.send("zero")
    assert bench.wait(20)


def test_a_stop_key_at_the_terminal_does_not_reach_the_bench(run, heard):
    run("import os; print(os.getsid(0) == os.getpid(), file=__import__('sys').stderr)")
    assert heard.ended()[-1].complaint == "True"


def test_the_box_holds_no_more_than_the_newest(run, heard, say):
    newest = say.reading(2.0, t=2.0)
    bench = run(lines(say.reading(1.0, t=1.0), newest, Peak(arm=1.0)) + "sys.stdin.read()\n")
    heard.until(lambda all_: Peak(arm=1.0) in all_)
    assert isinstance(bench.latest(), Reading)
    assert bench.latest() == newest
