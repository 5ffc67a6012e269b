import errno
import inspect
from types import SimpleNamespace

import pytest
import smbus2
from smbus2 import i2c_msg

from benchmate.sim.bench import SimBench
from benchmate.sim.bus import SimBus
from benchmate.sim.clock import QuickClock

ADDRESS = 0x6A
NAMES = [
    "open",
    "close",
    "write_quick",
    "read_byte",
    "write_byte",
    "read_byte_data",
    "write_byte_data",
    "read_word_data",
    "write_word_data",
    "read_i2c_block_data",
    "write_i2c_block_data",
    "i2c_rdwr",
]


@pytest.fixture
def world(build):
    return build()


@pytest.fixture
def bus(world):
    return world.bus(1)


@pytest.mark.parametrize("name", NAMES)
def test_each_call_takes_what_smbus2_takes(name):
    def plain(owner):
        asked = inspect.signature(getattr(owner, name)).parameters.values()
        return [(p.name, p.kind, p.default) for p in asked]

    assert plain(SimBus) == plain(smbus2.SMBus)


def test_opening_takes_what_smbus2_takes():
    ours = list(inspect.signature(SimBench.bus).parameters)[1:]
    assert ours == list(inspect.signature(smbus2.SMBus).parameters)


def test_offers_what_a_pi_offers(bus):
    funcs = smbus2.I2cFunc(bus.funcs)
    assert funcs & smbus2.I2cFunc.I2C
    assert funcs & smbus2.I2cFunc.SMBUS_READ_I2C_BLOCK
    assert not funcs & smbus2.I2cFunc.SMBUS_READ_BLOCK_DATA


@pytest.mark.parametrize("bus", [0, 7, "/dev/i2c-22"])
def test_another_bus_is_not_there(world, bus):
    with pytest.raises(FileNotFoundError) as caught:
        world.bus(bus)
    assert caught.value.errno == errno.ENOENT


def test_a_bus_is_a_number_or_a_path(world):
    with pytest.raises(TypeError):
        world.bus(1.5)
    assert world.bus("/dev/i2c-1").read_byte_data(ADDRESS, 0x0F) == 0x6C


def test_closed_it_takes_no_transfers(world):
    with world.bus(1) as bus:
        bus.read_byte_data(ADDRESS, 0x0F)
    with pytest.raises(TypeError):
        bus.read_byte_data(ADDRESS, 0x0F)
    with pytest.raises(TypeError):
        world.bus().i2c_rdwr(i2c_msg.read(ADDRESS, 1))


def test_nobody_answers_at_an_address_without_a_chip(bus):
    with pytest.raises(OSError, match="121") as caught:
        bus.read_byte_data(0x53, 0x00)
    assert caught.value.errno == errno.EREMOTEIO


def test_more_than_thirty_two_bytes_are_refused_as_smbus2_refuses_them(bus):
    real = smbus2.SMBus()
    for ask in (
        lambda bus: bus.read_i2c_block_data(ADDRESS, 0, 33),
        lambda bus: bus.write_i2c_block_data(ADDRESS, 0, [0] * 33),
    ):
        with pytest.raises(ValueError, match="32") as ours:
            ask(bus)
        with pytest.raises(ValueError, match="32") as theirs:
            ask(real)
        assert str(ours.value) == str(theirs.value)


def test_plain_messages_have_no_such_limit(bus):
    read = i2c_msg.read(ADDRESS, 100)
    bus.i2c_rdwr(i2c_msg.write(ADDRESS, [0x00]), read)
    assert list(read)[0x0F] == 0x6C


def test_a_pi_reads_once_in_a_transfer_and_last(bus):
    with pytest.raises(OSError, match="95"):
        bus.i2c_rdwr(i2c_msg.read(ADDRESS, 1), i2c_msg.write(ADDRESS, [0]))


def test_without_plain_messages_only_blocks_go(clock, build):
    bench = build()._bench
    bus = SimBench(bench, clock, plain_i2c=False).bus(1)
    assert not bus.funcs & smbus2.I2cFunc.I2C
    with pytest.raises(OSError, match="95"):
        bus.i2c_rdwr(i2c_msg.read(ADDRESS, 1))
    assert bus.read_i2c_block_data(ADDRESS, 0x0F, 1) == [0x6C]


def test_a_burst_takes_its_time_on_the_wire(bus, clock):
    before = clock.now()
    bus.read_i2c_block_data(ADDRESS, 0x22, 12)
    assert clock.now() - before == pytest.approx(1.38e-3, rel=0.02)


def test_a_single_byte_goes_on_from_the_pointer(bus):
    bus.write_byte(ADDRESS, 0x0F)
    assert bus.read_byte(ADDRESS) == 0x6C
    bus.write_quick(ADDRESS)


class Kernel:
    """The system calls that smbus2 makes, answered by a simulated wire one level below it."""

    def __init__(self, world):
        self.wire = world._wire
        self.address = 0
        self.O_RDWR = 2

    def open(self, path, flags):
        assert path == "/dev/i2c-1"
        return 5

    def close(self, fd):
        assert fd == 5

    def ioctl(self, fd, request, data):
        match request:
            case 0x0705:
                data.value = 0x0EFF0009
            case 0x0703:
                self.address = data
            case 0x0720:
                self.smbus(data)
            case 0x0707:
                self.messages(data)

    def smbus(self, asked):
        data = asked.data.contents
        length = {0: 0, 1: 1, 2: 1, 3: 2, 8: data.block[0]}[asked.size]
        at = [] if asked.size == 0 else [asked.command]
        if not asked.read_write:
            sent = {2: [data.byte], 3: [data.word & 0xFF, data.word >> 8]}
            more = list(data.block[1 : length + 1]) if asked.size == 8 else sent.get(asked.size, [])
            self.wire.transfer(self.address, bytes(at + more))
            return
        before = None if asked.size == 1 else bytes(at)
        answer = self.wire.transfer(self.address, before, length)
        if asked.size == 8:
            data.block[1 : length + 1] = list(answer)
        elif asked.size == 3:
            data.word = int.from_bytes(answer, "little")
        else:
            data.byte = answer[0]

    def messages(self, asked):
        first, last = asked.msgs[0], asked.msgs[1]
        answer = self.wire.transfer(first.addr, bytes(first), last.len)
        for place, byte in enumerate(answer):
            last.buf[place] = byte


def converse(bus):
    """Set a chip up and read it in all ways there are."""
    said = []
    bus.write_quick(ADDRESS)
    for register, value in ((0x12, 0x144), (0x10, 0x52), (0x11, 0x50)):
        bus.write_byte_data(ADDRESS, register, value)
    bus.write_word_data(ADDRESS, 0x73, 0x0201)
    bus.write_i2c_block_data(ADDRESS, 0x56, [1, 2, 3])
    bus.write_byte(ADDRESS, 0x0F)
    said.append(bus.read_byte(ADDRESS))
    for _ in range(20):
        said.append(bus.read_byte_data(ADDRESS, 0x1E))
        said.append(bus.read_word_data(ADDRESS, 0x28))
        said.append(bus.read_i2c_block_data(ADDRESS, 0x22, 12))
        said.append(bus.read_i2c_block_data(ADDRESS, 0x50, 32))
        read = i2c_msg.read(ADDRESS, 40)
        bus.i2c_rdwr(i2c_msg.write(ADDRESS, [0x10]), read)
        said.append(list(read))
    return said


def test_says_what_smbus2_says_over_the_same_wire(build, monkeypatch):
    ours = build(seed=4)
    kernel = Kernel(SimBench(ours._bench, QuickClock(), 4))
    monkeypatch.setattr(
        smbus2.smbus2, "os", SimpleNamespace(open=kernel.open, close=kernel.close, O_RDWR=2)
    )
    monkeypatch.setattr(smbus2.smbus2, "ioctl", kernel.ioctl)
    with smbus2.SMBus(1) as theirs:
        assert converse(ours.bus(1)) == converse(theirs)
