"""A bench whose arm rises at 5 degrees a second, over and over, near its stop; for benchmarks.

    python tests/bench/ramp.py [READINGS_A_SECOND]

The arm angle at time t is ``angle(t)``: anyone with the same clock knows how old a painted one is.
"""

import sys
import time

from benchmate.stream import Reading, Target, write_event

RATE_DPS = 5.0
SPAN_DEG = 3.0
STOP_DEG = 93.0


def angle(t: float) -> float:
    """Give the true arm angle at a time of the monotonic clock."""
    return STOP_DEG - SPAN_DEG + (RATE_DPS * t) % SPAN_DEG


def main() -> None:
    every = 1.0 / float(sys.argv[1] if len(sys.argv) > 1 else 30.0)
    target = Target(
        bend=1,
        hit=1,
        bend_angle=90.0,
        stop_angle=STOP_DEG,
        sd=0.5,
        tolerance=0.5,
        bends=4,
        over_angle=94.0,
    )
    try:
        say(write_event(target))
        due = time.monotonic()
        while True:
            t = time.monotonic()
            arm = angle(t)
            to_go = STOP_DEG - arm
            say(
                write_event(
                    Reading(
                        t=t,
                        arm=arm,
                        rate=RATE_DPS,
                        sd=0.05,
                        to_go=to_go,
                        phase="bending",
                        cue="slow",
                        strokes=to_go / 2.0,
                    )
                )
            )
            due = max(due + every, t)
            time.sleep(max(due - time.monotonic(), 0.0))
    except BrokenPipeError:
        # The screen is gone; a benchmark needs no more of it.
        sys.stderr.close()


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
