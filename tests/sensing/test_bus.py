"""The bus: one retry for reads, none for writes, and every failure in words."""

import errno

import pytest
import smbus2

from benchmate.sensing.bus import Bus
from benchmate.sensing.sample import SensorFault


def test_it_opens_at_the_first_transfer_and_once(script):
    talk = script(("r", 0x6A, 0x0F, b"\x6c"), ("r", 0x6A, 0x22, bytes(12)))
    bus = talk.bus()
    assert talk.opened == []
    assert bus.read_byte(0x6A, 0x0F) == 0x6C
    assert bus.read_block(0x6A, 0x22, 12) == bytes(12)
    assert talk.opened == [1]
    assert (bus.transfers, bus.retries, bus.failures) == (2, 0, 0)


def test_it_opens_whatever_stands_in_smbus2s_place_by_then(script, monkeypatch):
    talk = script(("r", 0x53, 0x00, b"\xe5"))
    bus = Bus(number=7)
    monkeypatch.setattr(smbus2, "SMBus", talk.open)
    assert bus.read_byte(0x53, 0x00) == 0xE5
    assert talk.opened == [7]


def test_a_read_that_fails_once_is_asked_again_at_once_and_counted(script):
    talk = script(
        ("r", 0x6A, 0x22, OSError(errno.EREMOTEIO, "Remote I/O error")),
        ("r", 0x6A, 0x22, b"\x01\x02"),
    )
    bus = talk.bus()
    assert bus.read_block(0x6A, 0x22, 2) == b"\x01\x02"
    assert (bus.retries, bus.failures) == (1, 0)


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (errno.EREMOTEIO, "no answer"),
        (errno.ENXIO, "no answer"),
        (errno.ENODEV, "no answer"),
        (errno.ETIMEDOUT, "stuck"),
        (errno.EIO, "loose or long cable"),
        (errno.EAGAIN, "another master"),
        (errno.EBUSY, "kernel driver"),
        (errno.EOPNOTSUPP, "adapter"),
        (errno.EBADMSG, "Bad message"),
    ],
)
def test_a_read_that_fails_twice_is_a_bus_fault_with_cause_and_cure(script, number, told):
    error = OSError(number, "Bad message")
    talk = script(("r", 0x6A, 0x22, error), ("r", 0x6A, 0x22, error))
    bus = talk.bus()
    with pytest.raises(SensorFault, match=told) as raised:
        bus.read_block(0x6A, 0x22, 1)
    assert raised.value.what == "bus"
    assert "0x6a on I2C bus 1" in raised.value.detail
    assert "\n" not in raised.value.detail
    assert (bus.retries, bus.failures) == (1, 1)


def test_a_write_is_never_repeated(script):
    talk = script(("w", 0x6A, 0x12, OSError(errno.EREMOTEIO, "Remote I/O error")))
    with pytest.raises(SensorFault, match="no answer"):
        talk.bus().write_byte(0x6A, 0x12, 1)
    assert talk.done()


@pytest.mark.parametrize("number", [errno.ETIMEDOUT, errno.EIO])
def test_a_stuck_adapter_is_opened_afresh_for_the_next_transfer(script, number):
    stuck = OSError(number, "")
    talk = script(("r", 0x6A, 0x0F, stuck), ("r", 0x6A, 0x0F, stuck), ("r", 0x6A, 0x0F, b"\x6c"))
    bus = talk.bus()
    with pytest.raises(SensorFault):
        bus.read_byte(0x6A, 0x0F)
    assert talk.closed == 1
    assert bus.read_byte(0x6A, 0x0F) == 0x6C
    assert talk.opened == [1, 1]


def test_a_short_answer_is_a_broken_transfer():
    class Short:
        def read_i2c_block_data(self, address: int, register: int, n: int) -> list[int]:
            return [0] * (n - 1)

        def close(self) -> None:
            raise OSError(errno.EBADF, "Bad file descriptor")

    bus = Bus(lambda _: Short(), 1)
    with pytest.raises(SensorFault, match="broke off"):
        bus.read_block(0x53, 0x32, 6)


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (errno.ENOENT, "switch I2C on"),
        (errno.EACCES, "group i2c"),
        (errno.ENXIO, "has no adapter behind it"),
        (errno.ENODEV, "has no adapter behind it"),
        (errno.EMFILE, "too many"),
    ],
)
def test_a_bus_that_cannot_be_opened_says_what_to_do(number, told):
    def refuse(_: int) -> object:
        raise OSError(number, "too many open files")

    with pytest.raises(SensorFault, match=told) as raised:
        Bus(refuse, 1).read_byte(0x6A, 0x0F)
    assert raised.value.what == "bus"
    assert "I2C bus 1" in raised.value.detail


@pytest.mark.parametrize("n", [0, 33])
def test_a_block_is_1_to_32_bytes(script, n):
    with pytest.raises(ValueError, match="1 to 32"):
        script().bus().read_block(0x6A, 0x22, n)


def test_closing_a_bus_that_was_never_opened_is_no_error(script):
    talk = script()
    talk.bus().close()
    assert talk.closed == 0
