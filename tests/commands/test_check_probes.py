"""What each probe says of what it finds."""

import errno
import os
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import smbus2
from gpiozero import LED, Device
from gpiozero.pins.mock import MockFactory, MockPWMPin

from benchmate.checks.disk import look_at_disk
from benchmate.checks.pins import look_at_pins
from benchmate.checks.power import look_at_supply
from benchmate.checks.sensor import look_at_bus, look_at_sensor
from benchmate.checks.store import look_at_sqlite, look_at_store, writer_of
from benchmate.shop.parts import Arm, Bench, Sensor, Signals
from benchmate.sim.bench import SimBench
from benchmate.sim.clock import QuickClock
from benchmate.store import Store

CHIPS = ("lsm6dso", "lsm6dsox", "adxl345", "adxl355", "as5600")
SIGNALS = Signals(buzzer=18, lights=(5, 6), foot_switch=17)


@pytest.fixture
def on_the_bus(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], tuple[SimBench, QuickClock]]:
    """Put a rehearsal's chip where the system's bus would be."""

    def put(chip: str) -> tuple[SimBench, QuickClock]:
        clock = QuickClock()
        bench = Bench(bench="b", sensor=Sensor(chip=chip), arm=Arm(radius_mm=80.0))
        sim = SimBench(bench, clock)
        monkeypatch.setattr(smbus2, "SMBus", sim.bus)
        return sim, clock

    return put


@pytest.fixture
def mock_pins() -> Iterator[None]:
    before = Device.pin_factory
    Device.pin_factory = MockFactory(pin_class=MockPWMPin)
    yield
    Device.pin_factory.close()
    Device.pin_factory = before


def lines(found: Iterator[object]) -> list[str]:
    return [f"{each.mark} {each.what}: {each.says}" for each in found]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("gain", "says"),
    [(128, "its magnet is too weak; bring it nearer"), (0, "its magnet is too strong; take it")],
)
def test_a_magnet_at_an_end_of_the_encoders_gain_is_told(on_the_bus, gain: int, says: str) -> None:
    world, clock = on_the_bus("as5600")
    world.faults.move_magnet(gain)
    _, sensor = lines(look_at_sensor(Sensor(chip="as5600"), clock))
    assert sensor.startswith("wrong sensor: as5600 at 0x36")
    assert says in sensor


def test_an_encoder_without_a_magnet_is_told(on_the_bus) -> None:
    world, clock = on_the_bus("as5600")
    world.faults.lose_magnet()
    _, sensor = lines(look_at_sensor(Sensor(chip="as5600"), clock))
    assert "sees no magnet; set it 0.5 to 3 mm" in sensor


@pytest.mark.parametrize("chip", CHIPS)
def test_a_chip_that_answers_gives_a_sample(on_the_bus, chip: str) -> None:
    _, clock = on_the_bus(chip)
    bus, sensor = lines(look_at_sensor(Sensor(chip=chip), clock))
    assert bus == "works bus: I2C bus 1"
    assert sensor.startswith(f"works sensor: {chip} at 0x")
    assert "samples a second, reads" in sensor


def test_another_chip_than_bench_yaml_names_is_wrong(on_the_bus) -> None:
    _, clock = on_the_bus("adxl345")
    _, sensor = lines(look_at_sensor(Sensor(chip="adxl355", address=0x53), clock))
    assert sensor.startswith("wrong sensor: 0x53 on I2C bus 1: another chip answers")


def test_a_chip_that_is_not_plugged_in_is_missing(on_the_bus) -> None:
    sim, clock = on_the_bus("lsm6dso")
    sim.faults.unplug()
    _, sensor = lines(look_at_sensor(Sensor(chip="lsm6dso"), clock))
    assert sensor.startswith(
        "missing sensor: 0x6a on I2C bus 1: no answer: check the sensor's cable"
    )


def test_a_bus_that_the_system_lacks_says_which_there_are(tmp_path: Path) -> None:
    (tmp_path / "i2c-20").touch()
    found = look_at_bus(1, tmp_path)
    assert found.mark == "missing"
    assert "(there: i2c-20); switch I2C on with 'sudo raspi-config" in found.says


def test_a_bus_that_is_there_and_will_not_open_is_wrong(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(number: int) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(smbus2, "SMBus", refuse)
    monkeypatch.setattr("os.access", lambda *_: False)
    (tmp_path / "i2c-1").touch()
    found = look_at_bus(1, tmp_path)
    assert found.mark == "wrong"
    assert "may not be opened; add yourself with 'sudo usermod -aG " in found.says


def test_a_bus_that_is_a_link_to_nothing_is_told_as_that(tmp_path: Path) -> None:
    (tmp_path / "i2c-255").symlink_to("i2c-gone")
    found = look_at_bus(255, tmp_path)
    assert found.mark == "wrong"
    assert "i2c-255 points to i2c-gone, which isn't there" in found.says


@pytest.mark.parametrize("number", [errno.ENXIO, errno.ENODEV])
def test_a_device_with_no_adapter_behind_it_is_told_as_that(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    def refuse(_: int) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(smbus2, "SMBus", refuse)
    (tmp_path / "i2c-1").touch()
    assert "has no adapter behind it; switch I2C on anew" in look_at_bus(1, tmp_path).says


def test_without_a_bus_the_chip_is_not_looked_at() -> None:
    found = lines(look_at_sensor(Sensor(chip="lsm6dso", bus=255), QuickClock()))
    assert [line.split(":")[0] for line in found] == ["missing bus", "missing sensor"]


def test_pins_that_open_are_named_with_the_factory_and_given_back(mock_pins) -> None:
    for _ in range(2):
        assert lines(look_at_pins(SIGNALS)) == [
            "works pins: buzzer GPIO18, light GPIO5, light GPIO6, foot switch GPIO17"
            " through gpiozero's MockFactory"
        ]


def test_a_pin_that_is_taken_is_missing_and_the_others_are_not(mock_pins) -> None:
    with LED(5):
        (found,) = lines(look_at_pins(SIGNALS))
    assert found.startswith("missing pins: light on GPIO5: ")


def test_a_bench_without_signals_has_no_pins_to_look_at() -> None:
    assert lines(look_at_pins(Signals())) == []


@pytest.mark.parametrize(
    ("told", "said"),
    [
        (None, []),
        ("throttled=0x0\n", ["works supply: the voltage has held since the start"]),
        ("throttled=0x50005\n", ["wrong supply: the voltage is too low now; "]),
        ("throttled=0x50000\n", ["wrong supply: the voltage was too low since the start; "]),
        ("throttled=0x8\n", ["wrong supply: the processor is slowed down by heat; "]),
        ("VCHI failed", ["wrong supply: vcgencmd get_throttled says 'VCHI failed'"]),
    ],
)
def test_the_supply_is_what_the_firmware_says(told: str | None, said: list[str]) -> None:
    found = lines(look_at_supply(lambda: told))
    assert len(found) == len(said)
    assert all(line.startswith(start) for line, start in zip(found, said, strict=True))


CARD = "24 1 179:2 / / rw - ext4 /dev/mmcblk0p2 rw\n"


@pytest.mark.parametrize(
    ("mounts", "mark", "said"),
    [
        (CARD, "works", "on ext4"),
        (CARD + "25 24 0:5 / {folder} rw - tmpfs tmpfs rw\n", "wrong", "lies in memory"),
        (CARD + "25 24 0:5 / {folder} rw shared:1 - nfs4 box:/x rw\n", "wrong", "another machine"),
        (CARD + "25 24 0:5 / /elsewhere rw - tmpfs tmpfs rw\n", "works", "on ext4"),
        (
            "22 1 0:9 / /media/rw rw - tmpfs tmpfs rw\n"
            "23 1 0:8 / / rw - overlay overlay rw,lowerdir=/ro,upperdir=/media/rw/up,workdir=/w\n",
            "wrong",
            "an overlay in memory",
        ),
        ("23 1 0:8 / / rw - overlay overlay rw,upperdir=/gone/up\n", "note", "on an overlay"),
        ("", "works", "the system doesn't say"),
        ("nonsense\n - \n", "works", "the system doesn't say"),
    ],
)
def test_where_the_store_lies_is_told(tmp_path: Path, mounts: str, mark: str, said: str) -> None:
    listing = tmp_path / "mountinfo"
    listing.write_text(mounts.format(folder=str(tmp_path).replace(" ", r"\040")))
    disk, *_ = look_at_disk(tmp_path / "not" / "yet" / "bends.db", listing)
    assert (disk.mark, said in disk.says) == (mark, True)


@pytest.mark.parametrize(("free", "mark"), [(49_000_000, "wrong"), (51_000_000, "works")])
def test_too_little_room_is_wrong(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, free: int, mark: str
) -> None:
    monkeypatch.setattr("shutil.disk_usage", lambda _: type("usage", (), {"free": free}))
    *_, space = look_at_disk(tmp_path / "bends.db")
    assert (space.what, space.mark) == ("space", mark)


def test_a_store_that_is_not_there_yet_is_no_fault_and_is_not_made(tmp_path: Path) -> None:
    path = tmp_path / "none" / "bends.db"
    assert lines(look_at_store(path))[1].startswith("works store: none at ")
    assert not path.parent.exists()


def test_a_store_that_opens_works(tmp_path: Path) -> None:
    path = tmp_path / "bends.db"
    Store.open(path).close()
    assert lines(look_at_store(path))[1] == (
        f"works store: {path}, 0 bends, every row as it was written"
    )


def test_a_row_that_is_not_what_was_written_is_told_with_the_cure(tmp_path: Path) -> None:
    path = tmp_path / "bends.db"
    with Store.open(path) as store:
        store.keep("trial", "round", {"start_offset_mm": 12.0}).result()
    with sqlite3.connect(path) as meddler:
        meddler.execute("DROP TRIGGER finding_is_not_changed")
        meddler.execute("UPDATE finding SET name = 'other'")
    meddler.close()
    _, *found = lines(look_at_store(path))
    assert all(line.startswith(f"wrong store: {path}: ") for line in found)
    assert any("finding row 1 is not what was written" in line for line in found)
    assert "benchmate log rescue" in found[-1]


@pytest.mark.parametrize("content", [b"not a database" * 100, b"SQLite format 3\0" * 100])
def test_a_file_that_is_no_store_is_wrong(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "bends.db"
    path.write_bytes(content)
    assert lines(look_at_store(path))[1].startswith("wrong store: ")
    assert path.read_bytes() == content


def test_another_program_s_database_is_wrong(tmp_path: Path) -> None:
    path = tmp_path / "bends.db"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE x (y)")
    other.close()
    assert "another program's" in lines(look_at_store(path))[1]


@pytest.mark.parametrize(
    ("version", "concerned"), [((3, 40, 1), True), ((3, 51, 2), True), ((3, 51, 3), False)]
)
def test_the_log_s_known_fault_is_told_where_sqlite_has_it(
    version: tuple[int, int, int], concerned: bool
) -> None:
    found = look_at_sqlite(version)
    assert found.mark == ("note" if concerned else "works")
    assert ("nothing to do while only benchmate writes" in found.says) == concerned


@pytest.mark.parametrize(
    ("free", "said"),
    [
        (83_161_000_000, "83 GB"),
        (2_460_000_000, "2.5 GB"),
        (999_000_000, "999 MB"),
        (9_960_000_000, "10.0 GB"),
    ],
)
def test_room_is_told_in_a_size_that_is_read_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, free: int, said: str
) -> None:
    monkeypatch.setattr("shutil.disk_usage", lambda _: type("usage", (), {"free": free}))
    *_, space = look_at_disk(tmp_path / "bends.db")
    assert space.says.startswith(f"{said} free at ")


def test_who_writes_the_store_is_known_while_it_is_open(tmp_path: Path) -> None:
    path = tmp_path / "bends.db"
    assert writer_of(path) is None
    with Store.open(path):
        assert writer_of(path) is not None
    assert writer_of(path) is None
