"""An arm, a tube and a pump in real time, moved by words over a socket."""

import json
import math
import random
import socket
import threading
import time
from bisect import bisect_left
from typing import Any

G = 9.80665
STEP_S = 0.001


class Bender:
    """The bender and what is wrong with its wiring, as of now.

    The words: ``pump DPS``, ``strokes DEG SECONDS PAUSE``, ``hold``, ``release``, ``move DEG DPS``
    (an empty die), ``fault KIND [SECONDS]``, ``new-tube``, ``truth``.
    """

    def __init__(self, how: dict[str, Any]) -> None:
        self.chip: str = how.get("chip", "lsm6dso")
        self.plain_messages: bool = how.get("plain_messages", True)
        self.slack = how.get("slack", 1.4)
        self.legs = how.get("legs", 0.5)
        self.per_degree = how.get("per_degree", 0.03)
        self.follows = how.get("follows", True)
        self.radius_m = how.get("radius_mm", 80.0) / 1000.0
        self.noise = how.get("noise", 1.0)
        self.chance = random.Random(how.get("seed", 5))
        self.turn = _attitude(random.Random(how.get("attitude", 11)))
        self.lock = threading.RLock()
        self.t = time.monotonic()
        self.arm = self.speed = self.pull = 0.0
        self.bent = 0.0
        self.peak = 0.0
        self.way = "hold"
        self.wanted_dps = 0.0
        self.goal = self.home = 0.0
        self.stroke = (0.0, 1.0, 0.0)
        self.stroke_began = 0.0
        self.past: list[tuple[float, float]] = []
        self.fault = ""
        self.fault_until = math.inf
        self.faults_began: list[tuple[str, float]] = []
        self.browned_out = False

    @classmethod
    def listening(cls, path: str, how: str) -> "Bender":
        """Give a bender that hears what is sent to the socket."""
        bender = cls(json.loads(how))
        door = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        door.bind(path)
        threading.Thread(target=bender._hear, args=(door,), daemon=True).start()
        return bender

    def make_bus(self, wire: Any) -> Any:
        """Give what stands in for ``smbus2.SMBus``."""
        return lambda bus=None, force=False: wire(self, bus)

    def _hear(self, door: socket.socket) -> None:
        while True:
            said, who = door.recvfrom(4096)
            with self.lock:
                answer = self._obey(said.decode().split())
            door.sendto(json.dumps(answer).encode(), who)

    def _obey(self, words: list[str]) -> Any:
        self.advance()
        match words:
            case ["pump", dps]:
                self.way, self.wanted_dps = "pump", float(dps)
            case ["strokes", deg, seconds, pause]:
                self.way = "strokes"
                self.stroke = (float(deg), float(seconds), float(pause))
                self.stroke_began = self.t
            case ["move", deg, dps]:
                self.way, self.goal, self.wanted_dps = "move", float(deg), float(dps)
            case ["hold" | "release" as way]:
                self.way, self.wanted_dps = way, 0.0
                # Slack or elastic only: the arm stays where it is pushed no further.
                self.home = min(self.slack + self.bent, self.arm) if self.follows else 0.0
            case ["fault", kind, *rest]:
                self.fault = "" if kind == "none" else kind
                self.fault_until = self.t + float(rest[0]) if rest else math.inf
                self.browned_out = kind in ("brownout", "pulled")
                self.faults_began.append((kind, self.t))
            case ["new-tube"]:
                self.bent = self.peak = 0.0
                self.way, self.arm, self.speed = "hold", 0.0, 0.0
        return {
            "t": self.t,
            "arm": self.arm,
            "peak": self.peak,
            "bent": self.bent,
            "rest": self.slack + self.bent,
            "way": self.way,
            "began": self.faults_began,
        }

    def advance(self) -> None:
        """Bring arm and tube to now."""
        now = time.monotonic()
        while self.t + STEP_S <= now:
            self._step()
        if self.fault and now > self.fault_until:
            self.fault = ""

    def at(self, t: float) -> tuple[float, float, float]:
        """Give arm [deg], rate [deg/s] and acceleration [deg/s^2] at a moment not long ago."""
        index = min(max(bisect_left(self.past, (t,)), 10), len(self.past) - 1)
        if index < 10:
            return self.arm, 0.0, 0.0
        (t0, a), (_, b), (t2, c) = self.past[index - 10], self.past[index - 5], self.past[index]
        half = (t2 - t0) / 2.0
        return c, (c - a) / (2.0 * half), (c - 2.0 * b + a) / half**2

    def _step(self) -> None:
        self.t += STEP_S
        match self.way:
            case "release":
                pull = 15.0**2 * (self.home - self.arm) - 30.0 * self.speed
                self.speed += pull * STEP_S
            case "move":
                gap = self.goal - self.arm
                aim = math.copysign(min(self.wanted_dps, abs(gap) * 6.0), gap)
                self.speed += (aim - self.speed) * STEP_S / 0.05
            case "strokes":
                deg, seconds, pause = self.stroke
                phase = (self.t - self.stroke_began) % (seconds + pause)
                wave = 1.0 - math.cos(2.0 * math.pi * phase / seconds)
                self.speed = deg / seconds * wave if phase < seconds else 0.0
            case _:
                self.speed += (self.wanted_dps - self.speed) * STEP_S / 0.02
        self.arm += self.speed * STEP_S
        if self.way not in {"release", "move"}:
            self._load()
        self.past.append((self.t, self.arm))

    def _load(self) -> None:
        self.peak = max(self.peak, self.arm)
        pressed = (self.arm - self.slack - self.legs) / (1.0 + self.per_degree)
        self.bent = max(self.bent, pressed)

    def felt(self, t: float) -> tuple[list[float], list[float]]:
        """Give acceleration [g] and rate of turn [deg/s] along the chip's axes, without noise."""
        arm, rate, accel = self.at(t)
        angle, w, dw = (math.radians(value) for value in (arm + 20.0, rate, accel))
        tangential = self.radius_m * dw / G - math.cos(angle)
        radial = -self.radius_m * w**2 / G + math.sin(angle)
        return (
            [row[0] * tangential + row[1] * radial for row in self.turn],
            [row[2] * rate for row in self.turn],
        )


def _attitude(chance: random.Random) -> list[list[float]]:
    w, x, y, z = (chance.gauss(0.0, 1.0) for _ in range(4))
    n = math.sqrt(w * w + x * x + y * y + z * z)
    w, x, y, z = w / n, x / n, y / n, z / n
    return [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
