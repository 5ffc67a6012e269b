"""Bad input of any kind: one sentence or a good answer, soon, with nothing written.

Started from good files and from what has done harm elsewhere, changed at random; ``--led`` lets
hypothesis go on from what runs more of the program.
"""

import contextlib
import errno
import io
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import strategies as st

from benchmate import stream
from benchmate.cli import main
from benchmate.errors import BenchmateError, Refusal
from benchmate.places import starter_shop
from benchmate.sensing.bus import Bus
from benchmate.sensing.chips.registry import open_chip
from benchmate.sensing.sample import SensorFault
from benchmate.shop import Shop
from benchmate.shop.drawing_files import read_points
from benchmate.shop.nodes import UnreadableError
from benchmate.shop.parts import Sensor
from benchmate.store import BendRecord, HitRecord, Log, Store
from benchmate.store.merging import merge
from benchmate.wording import is_printable

Fuzz = Callable[[st.SearchStrategy[Any], Callable[[Any], None]], None]

TOKENS = tuple(
    part.encode()
    for part in (
        *(
            "\x1b[2J",
            "\x07",
            "\x00",
            "\u202e",
            "\u2028",
            "\x85",
            "\ufeff",
            "&a ",
            "*a",
            "!!python/name:os.system",
        ),
        *(
            "<<: *a",
            "- ",
            ": ",
            "{",
            "}",
            "[",
            "]",
            "'",
            '"',
            "|",
            ">",
            "%",
            "@",
            "`",
            "\t",
            "\r",
            "---\n",
        ),
        *(
            "nan",
            "-inf",
            "1e308",
            "1e-320",
            "-0",
            "9" * 400,
            "0x10",
            "010",
            "1:30",
            "no",
            "~",
            "null",
        ),
        *(
            "../../../etc/passwd",
            "/dev/zero",
            "CON",
            "a" * 300,
            "=1+1",
            "'; DROP TABLE bend; --",
            "1/0 in",
        ),
        *(
            "1-5/8 in",
            "0.095 in",
            "25 mm",
            "360 deg",
            "\u0661",
            "\U0001f600",
            "\ud7ff",
            "999999 mm",
        ),
    )
)


def changed(seeds: tuple[bytes, ...]) -> st.SearchStrategy[bytes]:
    """Give seeds with a few changes: bytes put in, taken out, doubled, or replaced."""
    piece = st.one_of(st.sampled_from(TOKENS), st.binary(max_size=8))
    edit = st.tuples(st.integers(0, 4000), st.integers(0, 40), piece, st.integers(1, 3))

    def change(seed: bytes, edits: list[tuple[int, int, bytes, int]]) -> bytes:
        for at, out, put, times in edits:
            place = at % (len(seed) + 1)
            seed = seed[:place] + put * times + seed[place + out :]
        return seed

    return st.builds(change, st.sampled_from(seeds), st.lists(edit, max_size=6))


def told_well(says: str) -> None:
    assert says
    assert len(says) < 6000
    assert all(is_printable(line) for line in says.split("\n"))


def files_in(folder: Path) -> dict[str, bytes]:
    return {str(each): each.read_bytes() for each in folder.rglob("*") if each.is_file()}


@pytest.mark.parametrize("kind", ["bench.yaml", "dies", "tubes", "jobs"])
def test_a_shop_s_file(fuzz: Fuzz, tmp_path: Path, kind: str) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(starter_shop(), shop)
    job, die, tube = "trellis-knee", "round-25-r75", "e235-25x2"
    where = {
        "bench.yaml": shop / "bench.yaml",
        "dies": shop / "dies" / f"{die}.yaml",
        "tubes": shop / "tubes" / f"{tube}.yaml",
        "jobs": shop / "jobs" / f"{job}.yaml",
    }[kind]
    every = where.parent.glob("*.yaml")
    seeds = tuple(sorted(each.read_bytes() for each in every if each.name != "README.md"))
    good = Shop.for_job(shop, job)
    assert (good.job(job).die, good.job(job).tube) == (die, tube)

    def body(content: bytes) -> None:
        where.write_bytes(content)
        before = files_in(tmp_path)
        out, errors = io.StringIO(), io.StringIO()
        words = ["--shop", str(shop), "--store", str(tmp_path / "no" / "bends.db"), "plan", job]
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
            status = main(words)
        assert status in (0, 2), (status, errors.getvalue())
        if status == 2:
            told_well(errors.getvalue().rstrip("\n"))
        else:
            told_well(out.getvalue().rstrip("\n"))
        assert files_in(tmp_path) == before

    fuzz(changed(seeds), body)


def drawing(tmp_path: Path) -> bytes:
    import ezdxf

    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_line((0, 0, 0), (300, 0, 0))
    space.add_arc((300, 75, 0), 75, 270, 360)
    space.add_line((375, 75, 0), (375, 300, 0))
    space.add_polyline3d([(0, 0, 0), (1, 0, 0), (1, 1, 0)])
    path = tmp_path / "good.dxf"
    document.saveas(path)
    return path.read_bytes()


def small_drawing() -> bytes:
    """Give a drawing as small as they come, so that a change hits what matters."""
    rows = "0 SECTION 2 HEADER 9 $ACADVER 1 AC1009 9 $INSUNITS 70 4 0 ENDSEC 0 SECTION 2 ENTITIES"
    lines = ((0, 0, 300, 0), (300, 0, 300, 200), (300, 200, 500, 200))
    for x1, y1, x2, y2 in lines:
        rows += f" 0 LINE 8 0 10 {x1} 20 {y1} 30 0 11 {x2} 21 {y2} 31 0"
    return "\n".join((rows + " 0 ENDSEC 0 EOF\n").split(" ")).encode()


@pytest.mark.parametrize("ending", ["csv", "dxf"])
def test_a_drawing(fuzz: Fuzz, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"rail.{ending}"
    seeds = {
        "csv": (
            b"x,y,z\n0,0,0\n400,0,0\n400,350,0\n",
            b"\xef\xbb\xbf0;0;0\r\n1 in;0;0\r\n# corner\r\n1-1/4 in;2;3\r\n",
            b'"0","0","0"\n0\t0\t0\n' + b"9" * 140_000,
        ),
        "dxf": (small_drawing(), drawing(tmp_path)),
    }[ending]

    def body(content: bytes) -> None:
        path.write_bytes(content)
        before = {each.name for each in tmp_path.iterdir()}
        try:
            points = read_points(path)
        except UnreadableError as error:
            told_well(error.says)
        else:
            assert 3 <= len(points) <= 100
            assert all(abs(place) < float("inf") for point in points for place in point)
        assert {each.name for each in tmp_path.iterdir()} == before

    fuzz(changed(seeds), body)


def test_lines_of_commands(fuzz: Fuzz) -> None:
    words = (*stream.BEND_COMMANDS, *stream.TURN_COMMANDS, "pump", "release")
    seeds = (
        *(word.encode() for word in words),
        b"measured 89.5",
        b"taped 1 3 512.5",
        b"turned -90",
    )

    def body(content: bytes) -> None:
        text = io.TextIOWrapper(io.BytesIO(content), errors="backslashreplace")
        for line in stream.lines_in(text):
            assert len(line) <= stream.LONGEST_LINE
            try:
                command = stream.read_command(line)
            except Refusal as refusal:
                told_well(str(refusal))
            else:
                assert command.word in stream.BEND_COMMANDS
                assert all(abs(number) < float("inf") for number in command.numbers)

    fuzz(changed(seeds), body)


def test_lines_of_the_stream(fuzz: Fuzz) -> None:
    seeds = tuple(
        stream.write_event(event).encode()
        for event in (
            stream.Fault(what="bus", detail="no answer"),
            stream.Reading(t=1.0, arm=2.0, rate=0.1, sd=0.1, to_go=3.0, phase="ready", cue="pump"),
            stream.Logged(id="x", bend=1),
        )
    )

    def body(content: bytes) -> None:
        with contextlib.suppress(Refusal):
            stream.read_event(content.decode("utf-8", "replace"))

    fuzz(changed(seeds), body)


class WildBus:
    """Answers with what it was given: bytes or errors, over and over."""

    def __init__(self, answers: list[bytes | int]) -> None:
        self._answers = answers
        self._asked = 0

    def _answer(self, length: int) -> list[int]:
        answer = self._answers[self._asked % len(self._answers)]
        self._asked += 1
        if isinstance(answer, int):
            raise OSError(answer, "as the kernel says")
        return list((answer * (length + 1))[:length]) if answer else []

    def read_byte_data(self, _address: int, _register: int) -> int:
        (byte,) = self._answer(1) or [0]
        return byte

    def read_i2c_block_data(self, _address: int, _register: int, length: int) -> list[int]:
        return self._answer(length)

    def write_byte_data(self, _address: int, _register: int, _value: int) -> None:
        self._answer(0)

    def close(self) -> None:
        pass


class StillClock:
    """A clock that goes on only when somebody sleeps."""

    def __init__(self) -> None:
        self._now = 0.0

    def now(self) -> float:
        self._now += 1e-4
        return self._now

    def sleep(self, seconds: float) -> None:
        self._now += max(seconds, 0.0)


@pytest.mark.parametrize("kind", ["lsm6dso", "adxl345", "adxl355", "as5600"])
def test_bytes_of_the_bus(fuzz: Fuzz, kind: Any) -> None:
    good = {
        "lsm6dso": (b"\x6c", b"\x44", b"\x07"),
        "adxl345": (b"\xe5", b"\x83"),
        "adxl355": (b"\xad\x1d\xed", b"\x01"),
        "as5600": (b"\x20", b"\x01\x55", b"\x40"),
    }[kind]
    errors = st.sampled_from(
        (errno.EIO, errno.EREMOTEIO, errno.ETIMEDOUT, errno.EBUSY, errno.ENXIO)
    )
    answer = st.one_of(st.sampled_from(good), st.binary(min_size=0, max_size=32), errors)

    def body(answers: list[bytes | int]) -> None:
        wild = WildBus(answers)
        chip = open_chip(Sensor(chip=kind, bus=1), Bus(lambda _: wild, 1), StillClock())
        started = False
        for step in (*(chip.read,) * 20, chip.verify) * 2:
            sample, faults = None, []
            try:
                # As the sampler does: nothing is read of a chip that isn't set up.
                if started:
                    sample = step()
                else:
                    chip.start()
                    started = True
            except SensorFault as fault:
                started = False
                faults.append(fault)
            for fault in faults:
                assert fault.what in ("sensor", "bus")
                told_well(fault.detail)
            if sample is not None:
                values = (*(sample.accel_g or ()), *(sample.gyro_dps or ()))
                assert all(abs(value) < float("inf") for value in values)

    fuzz(st.lists(answer, min_size=1, max_size=12), body)


def test_a_store_to_merge(fuzz: Fuzz, tmp_path: Path) -> None:
    other, into = tmp_path / "other.db", tmp_path / "bends.db"
    with Store.open(other) as store:
        for number in range(3):
            store.append(a_bend(number)).result()
    whole = other.read_bytes()
    shutil.rmtree(tmp_path, ignore_errors=True)
    tmp_path.mkdir()
    with Store.open(into) as store:

        def body(content: bytes) -> None:
            other.write_bytes(content)
            with contextlib.suppress(BenchmateError):
                merge(store, other)

        fuzz(changed((whole,)), body)
    with Log.open(into) as log:
        assert log.check() == []


def a_bend(number: int) -> BendRecord:
    hits = (HitRecord(stop_angle=93.4, stop_sd=0.6, peak=93.5, rest=91.2),)
    return BendRecord(
        bend_id=f"bend-{number}",
        job="rose arch",
        bend=number + 1,
        die="round",
        tube="mild",
        lot="A",
        bend_angle=90.0,
        tolerance=0.5,
        verdict="accept",
        hits=hits,
        simulated=False,
        setup={},
        sensor={},
        trace=b"",
        faults=(),
    )
