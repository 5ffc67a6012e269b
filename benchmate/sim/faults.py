"""What goes wrong on a bench, on demand."""

from benchmate.clock import Clock
from benchmate.sim.chips.chip import Chip, Triple
from benchmate.sim.mounting import Knock, Warming
from benchmate.sim.wire import Wire


class FaultInjector:
    """Troubles to rehearse; each begins at once and, unless it says so, lasts until ``mend``."""

    def __init__(
        self, wire: Wire, clock: Clock, knocks: list[Knock], warmings: list[Warming]
    ) -> None:
        self._wire = wire
        self._clock = clock
        self._knocks = knocks
        self._warmings = warmings

    def unplug(self) -> None:
        """Pull the cable: nobody answers and the chip loses its power."""
        self._wire.plugged = False

    def plug_in(self, address: int | None = None) -> None:
        """Put the cable back, at another address if given: the chip wakes with its reset values."""
        with self._wire.lock:
            if address is not None:
                self._wire.address = address
            self._wire.plugged = True
            self._wire.chip.power_up(self._clock.now())

    def brown_out(self) -> None:
        """Dip the supply: the chip answers on, identity right, but is back at its reset values."""
        with self._wire.lock:
            self._wire.chip.power_up(self._clock.now())

    def freeze(self) -> None:
        """Let the outputs repeat for ever."""
        self._wire.chip.frozen = True

    def nack(self, transfers: int) -> None:
        """Refuse the next so many transfers."""
        self._wire.refusals = transfers

    def stuck(self, seconds: float) -> None:
        """Let the chip hold the bus for so long: each transfer waits a second and times out."""
        self._wire.stuck_until = self._clock.now() + seconds

    def busy(self) -> None:
        """Let a kernel driver own the address."""
        self._wire.busy = True

    def all_bytes(self, value: int) -> None:
        """Read this byte, 0x00 or 0xFF say, from every register."""
        self._wire.answers = value

    def flip_top_bits(self, chance: float) -> None:
        """Read the top bit of a byte wrong with this chance."""
        self._wire.top_bit_flips = chance

    def saturate(self, axis: int = 0) -> None:
        """Let an axis stick at its end stop; an encoder has none: ValueError."""
        self._wire.chip.saturate(axis)

    def self_test_left_on(self) -> None:
        """Switch the chip's self-test on behind the driver's back."""
        with self._wire.lock:
            self._wire.chip.leave_self_test_on()

    def rate_off(self, pace: float) -> None:
        """Let the chip sample so many times as fast as it did."""
        with self._wire.lock:
            self._wire.chip.change_pace(self._clock.now(), pace)

    def move_magnet(self, gain: int) -> None:
        """Move the encoder's magnet until its gain control reads so; ValueError for other chips."""
        self._wire.chip.move_magnet(gain)

    def offset_step(self, step_g: Triple) -> None:
        """Shift the chip's zero, as a blow does, for good; ValueError for an encoder."""
        with self._wire.lock:
            self._wire.chip.shift_zero(step_g)

    def lose_magnet(self) -> None:
        """Take the encoder's magnet away; ValueError for any other chip."""
        self._wire.chip.lose_magnet()

    def knock(self, deg: float, lean_deg: float = 0.0) -> None:
        """Turn the sensor's box on the arm, and lean it out of the arm's plane; for good."""
        with self._wire.lock:
            self._knocks.append(Knock(self._clock.now(), deg, lean_deg))

    def warm(self, by_c: float, over_s: float) -> None:
        """Let the bench's boxes warm by so many degrees, evenly over so many seconds; for good."""
        with self._wire.lock:
            self._warmings.append(Warming(self._clock.now(), by_c, over_s))

    def another_chip(self, chip: Chip) -> None:
        """Let another chip answer at the address from now on."""
        with self._wire.lock:
            self._wire.chip = chip

    def mend(self) -> None:
        """End what the wire and the chip suffer; what was set in the chip or knocked stays so."""
        with self._wire.lock:
            wire = self._wire
            wire.refusals, wire.stuck_until, wire.busy = 0, 0.0, False
            wire.answers, wire.top_bit_flips = None, 0.0
            wire.chip.mend()
            if not wire.plugged:
                self.plug_in()
