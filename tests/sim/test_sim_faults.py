import errno
import math
import struct

import pytest

SET_UP = {
    "lsm6dso": ((0x12, 0x44), (0x10, 0x52), (0x11, 0x50)),
    "adxl345": ((0x31, 0x08), (0x2C, 0x0C), (0x2D, 0x08)),
    "adxl355": ((0x28, 0x04), (0x2D, 0x00)),
    "as5600": ((0x07, 0x03), (0x08, 0x00)),
}
ADDRESS = {"lsm6dso": 0x6A, "adxl345": 0x53, "adxl355": 0x1D, "as5600": 0x36}
IDENTITY = {"lsm6dso": (0x0F, 0x6C), "adxl345": (0x00, 0xE5), "adxl355": (0x00, 0xAD)}
OUTPUT = {"lsm6dso": (0x22, 12), "adxl345": (0x32, 6), "adxl355": (0x08, 9), "as5600": (0x0C, 2)}
CHIPS = list(ADDRESS)
GRAVITY_CHIPS = list(IDENTITY)


class Rigged:
    def __init__(self, world, chip, clock):
        self.world, self.chip, self.clock = world, chip, clock
        self.faults, self.bus, self.address = world.faults, world.bus(1), ADDRESS[chip]
        self.set_up()

    def set_up(self):
        for register, value in SET_UP[self.chip]:
            self.bus.write_byte_data(self.address, register, value)
        self.clock.sleep(0.5)

    def settings(self):
        return [self.bus.read_byte_data(self.address, reg) for reg, _ in SET_UP[self.chip]]

    def output(self, wait=0.1):
        self.clock.sleep(wait)
        return self.bus.read_i2c_block_data(self.address, *OUTPUT[self.chip])


@pytest.fixture(params=CHIPS)
def rigged(request, build, clock):
    return Rigged(build(request.param), request.param, clock)


@pytest.fixture(params=GRAVITY_CHIPS)
def by_gravity(request, build, clock):
    return Rigged(build(request.param), request.param, clock)


def test_an_unplugged_chip_answers_nothing(rigged):
    rigged.faults.unplug()
    with pytest.raises(OSError, match="121"):
        rigged.output()


def test_plugged_in_again_it_wakes_with_its_reset_values(rigged):
    before = rigged.settings()
    rigged.faults.unplug()
    rigged.faults.plug_in()
    rigged.clock.sleep(0.1)
    assert rigged.settings() != before
    rigged.set_up()
    assert rigged.settings() == before


def test_a_brown_out_leaves_the_identity_and_takes_the_settings(by_gravity):
    before = by_gravity.settings()
    by_gravity.faults.brown_out()
    by_gravity.clock.sleep(0.1)
    register, identity = IDENTITY[by_gravity.chip]
    assert by_gravity.bus.read_byte_data(by_gravity.address, register) == identity
    assert by_gravity.settings() != before
    assert not any(by_gravity.output())


def test_a_frozen_chip_repeats_itself_though_it_says_that_it_measures(rigged):
    rigged.faults.freeze()
    first = rigged.output()
    rigged.world.swing()
    assert all(rigged.output(0.5) == first for _ in range(8))
    rigged.faults.mend()
    assert rigged.output() != first


def test_a_frozen_chip_still_says_that_data_is_ready(build, clock):
    rigged = Rigged(build("lsm6dso"), "lsm6dso", clock)
    rigged.faults.freeze()
    rigged.output()
    clock.sleep(0.1)
    assert rigged.bus.read_byte_data(0x6A, 0x1E) & 3 == 3


def test_so_many_transfers_are_refused_and_no_more(rigged):
    rigged.faults.nack(2)
    for _ in range(2):
        with pytest.raises(OSError, match="121"):
            rigged.output()
    rigged.output()


def test_a_stuck_bus_takes_a_second_for_each_refusal(rigged):
    rigged.faults.stuck(1.5)
    for _ in range(2):
        before = rigged.clock.now()
        with pytest.raises(OSError, match="110") as caught:
            rigged.bus.read_byte(rigged.address)
        assert caught.value.errno == errno.ETIMEDOUT
        assert rigged.clock.now() - before == pytest.approx(1.0)
    rigged.output()


def test_a_kernel_driver_keeps_the_address_unless_forced(rigged):
    rigged.faults.busy()
    with pytest.raises(OSError, match="16"):
        rigged.output()
    rigged.bus.read_byte(rigged.address, force=True)
    rigged.faults.mend()
    rigged.output()


@pytest.mark.parametrize("value", [0x00, 0xFF])
def test_a_broken_wire_reads_the_same_byte_everywhere(rigged, value):
    rigged.faults.all_bytes(value)
    assert set(rigged.output()) == {value}


def test_top_bits_flip_now_and_then(rigged):
    rigged.faults.flip_top_bits(0.5)
    register = OUTPUT[rigged.chip][0]
    seen = {rigged.bus.read_byte_data(rigged.address, register) & 0x80 for _ in range(40)}
    assert seen == {0x00, 0x80}


def test_an_axis_sticks_at_its_end_stop(by_gravity):
    by_gravity.faults.saturate(axis=1)
    data = bytes(by_gravity.output())
    match by_gravity.chip:
        case "lsm6dso":
            assert struct.unpack("<6h", data)[4] == 32767
        case "adxl345":
            assert struct.unpack("<3h", data)[1] == 511
        case "adxl355":
            assert data[3:6] == b"\x7f\xff\xf0"


def test_a_self_test_left_on_shifts_what_gravity_shows(by_gravity):
    before = by_gravity.output()
    by_gravity.faults.self_test_left_on()
    assert by_gravity.output() != before


def test_the_rate_is_off_by_what_was_asked(build, clock):
    rigged = Rigged(build("lsm6dso"), "lsm6dso", clock)

    def rate():
        came, until = 0, clock.now() + 4.0
        while clock.now() < until:
            if rigged.bus.read_byte_data(0x6A, 0x1E) & 1:
                rigged.bus.read_i2c_block_data(0x6A, 0x22, 12)
                came += 1
        return came / 4.0

    usual = rate()
    rigged.faults.rate_off(0.8)
    assert rate() == pytest.approx(0.8 * usual, rel=0.02)


def test_a_lost_magnet_is_told_and_comes_back(build, clock):
    rigged = Rigged(build("as5600"), "as5600", clock)
    rigged.faults.lose_magnet()
    assert rigged.bus.read_byte_data(0x36, 0x0B) == 0x10
    rigged.faults.mend()
    assert rigged.bus.read_byte_data(0x36, 0x0B) == 0x20


@pytest.mark.parametrize(("gain", "status"), [(0, 0x28), (1, 0x20), (127, 0x20), (128, 0x30)])
def test_a_moved_magnet_asks_for_another_gain_and_says_when_there_is_no_more(
    build, clock, gain, status
):
    rigged = Rigged(build("as5600"), "as5600", clock)
    rigged.faults.move_magnet(gain)
    assert rigged.bus.read_byte_data(0x36, 0x1A) == gain
    assert rigged.bus.read_byte_data(0x36, 0x0B) == status


@pytest.mark.parametrize(
    ("chip", "ask"),
    [
        ("lsm6dso", lambda faults: faults.lose_magnet()),
        ("lsm6dso", lambda faults: faults.move_magnet(90)),
        ("as5600", lambda faults: faults.saturate()),
        ("as5600", lambda faults: faults.offset_step((0.1, 0.0, 0.0))),
        ("as5600", lambda faults: faults.self_test_left_on()),
    ],
)
def test_a_chip_suffers_only_what_it_can(build, chip, ask):
    with pytest.raises(ValueError, match=r"magnet|axis|zero|self-test"):
        ask(build(chip).faults)


def test_at_another_address_the_old_one_is_empty(rigged):
    rigged.faults.unplug()
    rigged.faults.plug_in(address=0x19)
    rigged.clock.sleep(0.1)
    with pytest.raises(OSError, match="121"):
        rigged.output()
    assert rigged.bus.read_byte(0x19) >= 0


def test_a_knock_moves_the_encoder_by_as_much_for_good(build, clock):
    rigged = Rigged(build("as5600"), "as5600", clock)
    before = int.from_bytes(rigged.output(), "big")
    rigged.faults.knock(5.0)
    rigged.faults.mend()
    after = int.from_bytes(rigged.output(), "big")
    turned = math.remainder((after - before) * 360 / 4096, 360.0)
    assert abs(turned) == pytest.approx(5.0, abs=0.4)


COUNTS = {
    "lsm6dso": lambda data: [v * 0.061e-3 for v in struct.unpack("<6h", data)[3:]],
    "adxl345": lambda data: [v / 256 for v in struct.unpack("<3h", data)],
    "adxl355": lambda data: [
        int.from_bytes(data[i : i + 3], "big", signed=True) / 16 / 256000 for i in (0, 3, 6)
    ],
}


def test_a_shifted_zero_adds_to_every_axis_for_good(by_gravity):
    def mean():
        seen = [COUNTS[by_gravity.chip](bytes(by_gravity.output(0.01))) for _ in range(50)]
        return [sum(axis) / len(axis) for axis in zip(*seen, strict=True)]

    before = mean()
    by_gravity.faults.offset_step((0.1, -0.05, 0.0))
    by_gravity.faults.mend()
    moved = [a - b for a, b in zip(mean(), before, strict=True)]
    assert moved == pytest.approx([0.1, -0.05, 0.0], abs=0.004)


def test_warmth_rises_evenly_and_stays(build, clock):
    rigged = Rigged(build("lsm6dso"), "lsm6dso", clock)

    def degrees():
        low_high = bytes(rigged.bus.read_i2c_block_data(0x6A, 0x20, 2))
        return struct.unpack("<h", low_high)[0] / 256 + 25

    before = degrees()
    rigged.faults.warm(by_c=8.0, over_s=4.0)
    clock.sleep(2.0)
    assert degrees() - before == pytest.approx(4.0, abs=0.3)
    clock.sleep(10.0)
    assert degrees() - before == pytest.approx(8.0, abs=0.3)
