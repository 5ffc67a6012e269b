"""Run a program in a pseudo-terminal of a given size and hear what it paints."""

import fcntl
import os
import pty
import select
import struct
import subprocess
import termios
import time
from collections.abc import Callable, Sequence

WIDTH, HEIGHT = 80, 24


def run(
    argv: Sequence[str],
    seconds: float,
    until: Callable[[bytes], bool] = lambda _painted: False,
) -> tuple[float, bytes]:
    """Give how long it ran [s] and what it painted, until that is so or the time is over.

    The program is then asked to leave with q (twice: at once) and waited for.
    """
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", HEIGHT, WIDTH, 0, 0))
    environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"}
    began = time.monotonic()
    program = subprocess.Popen(
        argv, stdin=slave, stdout=slave, stderr=slave, env=environment, start_new_session=True
    )
    os.close(slave)
    painted, took = b"", seconds
    while (passed := time.monotonic() - began) < seconds:
        ready, _, _ = select.select([master], [], [], min(0.5, seconds - passed))
        if not ready:
            continue
        try:
            painted += os.read(master, 65536)
        except OSError:
            # Its end of the terminal is closed: the program has ended.
            took = time.monotonic() - began
            break
        if until(painted):
            took = time.monotonic() - began
            break
    _leave(program, master)
    os.close(master)
    return took, painted


def _leave(program: "subprocess.Popen[bytes]", master: int) -> None:
    asked = time.monotonic()
    while program.poll() is None:
        if time.monotonic() - asked > 0.3:
            os.write(master, b"q")
            asked = time.monotonic()
        if select.select([master], [], [], 0.05)[0]:
            try:
                os.read(master, 65536)
            except OSError:
                program.wait()
