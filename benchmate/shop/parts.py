"""What the person writes, as frozen values: bench, die, tube, job.

Lengths are mm, angles degrees, stresses MPa. Reading the files is ``benchmate.shop``'s business;
the pure rooms take these as they are.
"""

from typing import Literal

from benchmate.shop.keep_out import KeepOut
from benchmate.shop.shapes import Shape
from benchmate.shop.struct import ShopStruct
from benchmate.shop.tooling import Bolts, Bushing, Core, Follower, Groove, Plates
from benchmate.units import LengthUnit

ChipKind = Literal["lsm6dso", "lsm6dsox", "adxl345", "adxl355", "as5600"]


class Sensor(ShopStruct, frozen=True, kw_only=True):
    """The inclinometer or encoder that reads the arm, and where it hangs on the bus."""

    chip: ChipKind
    bus: int = 1
    address: int | None = None
    """None: the chip's own usual address."""
    rate_hz: float | None = None
    """Samples a second wanted; the chip's nearest is taken. None: its own usual rate."""


class Arm(ShopStruct, frozen=True, kw_only=True):
    """How the bender's arm moves and what it does on release."""

    plane: Literal["vertical", "tilted", "horizontal"] = "vertical"
    radius_mm: float
    """Pivot to sensor."""
    follows_tube: bool = True
    """True: on release the arm comes back with the tube. False: it retracts by itself."""
    bites: bool = False
    """True: the ram is too short and a bend takes several pin holes."""
    handed: Literal["right", "left"] = "right"


class Signals(ShopStruct, frozen=True, kw_only=True):
    """Pins by BCM number; every one optional."""

    buzzer: int | None = None
    lights: tuple[int, ...] = ()
    foot_switch: int | None = None


class Bench(ShopStruct, frozen=True, kw_only=True):
    """One bender with its sensor and signals."""

    bench: str
    sensor: Sensor
    arm: Arm
    signals: Signals = Signals()
    unit: LengthUnit = "mm"
    """The unit that lengths are shown in at this bench."""
    kerf_mm: float = 2.0
    """What a cut of the saw takes off the tube."""
    keep_out: KeepOut = KeepOut()
    """What the tube must not swing into."""
    frame_sensor: Sensor | None = None
    """A second chip, clamped on the frame: what the bench rocks is taken out of the arm angle."""
    store_copy: str | None = None
    """Folder on another disk that a copy of the store is kept in; None: nowhere."""


class Die(ShopStruct, frozen=True, kw_only=True):
    """A bending die."""

    die: str
    for_od_mm: float
    centreline_radius_mm: float
    max_angle_deg: float
    start_offset_mm: float | None = None
    """From the mark held at the die's line to the start of bend, > 0 towards the arc."""
    slack_deg: float | None = None
    """Arm rotation from zero that bends nothing; None: unknown."""
    grip_mm: float | None = None
    """Straight that the die needs before the first bend, to the start of bend; None: unknown."""
    between_mm: float | None = None
    """Straight that it needs between two bends; None: unknown."""
    tail_mm: float | None = None
    """Straight that it needs after a bend; None: unknown."""
    core: Core | None = None
    plates: Plates | None = None
    bolts: tuple[Bolts, ...] = ()
    groove: Groove | None = None
    bushing: Bushing | None = None
    follower: Follower | None = None
    step_pct: float = 25.0
    """How far past what it has carried it may be asked without a yes, in per cent."""

    @property
    def printed(self) -> bool:
        """Say whether its core is a printed one: its walls or infill are written."""
        return self.core is not None and (self.core.walls > 0 or self.core.infill_pct < 100)


class Tube(ShopStruct, frozen=True, kw_only=True):
    """Round tube of one size and steel. Equal ``grade`` text means equal steel."""

    tube: str
    od_mm: float
    wall_mm: float
    grade: str
    yield_strength_mpa: float
    tensile_strength_mpa: float
    modulus_gpa: float | None = None
    n: float | None = None
    """Strain-hardening exponent; None: worked out from yield and tensile strength."""
    K_mpa: float | None = None
    """Strength coefficient of the hardening law; None: worked out."""
    stock_mm: float | None = None
    """The longest piece that there is of it; None: unknown."""


class JobBend(ShopStruct, frozen=True, kw_only=True):
    """One bend of a job: the straight before it, the turn made before it, its angle."""

    straight_mm: float
    angle_deg: float
    turn_deg: float = 0.0


class Job(ShopStruct, frozen=True, kw_only=True):
    """A part to bend: bends with a tail, the points where its straights meet, or a shape."""

    job: str
    tube: str
    die: str
    lot: str = ""
    tolerance_deg: float
    over_chance_pct: float = 2.0
    """Chance of ending over-bent that a bend may have, in per cent."""
    bends: tuple[JobBend, ...] = ()
    tail_mm: float | None = None
    points_mm: tuple[tuple[float, float, float], ...] = ()
    shape: Shape | None = None
    fit: tuple[int, ...] = ()
    """Points that matter most, when a bend came out different: 1 is the first end, then corners."""
    rules: tuple[str, ...] = ()
    """Names of the rule sets that the part is held against."""
    cut_mm: float | None = None
    """Length that the tube is cut to already; None: what the part takes."""
    give: Literal["first", "last", "both"] = "last"
    """Which end straight takes the difference to a given cut length."""
    count: int = 1
    """How many of the part are to be made."""
    other_end: bool = False
    """Bent from the other end: its last bend first."""
    unit: LengthUnit | None = None
    """The unit that this job's lengths are shown in; None: the bench's."""
