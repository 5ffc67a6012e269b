"""A die as it is made: core, plates, bolts, groove, bushing, follower. All of it optional."""

from typing import Literal

from benchmate.shop.struct import ShopStruct

Hold = Literal["through", "tapped"]


class Core(ShopStruct, frozen=True, kw_only=True):
    """What the groove is cut or printed in."""

    material: str
    """A name in materials.yaml."""
    infill_pct: float = 100.0
    """Of a printed core: how much of its inside is filled."""
    walls: int = 0
    """Of a printed core: lines round the outside, each about as wide as the nozzle."""


class Plates(ShopStruct, frozen=True, kw_only=True):
    """The plates that hold the core between them."""

    material: str
    thickness_mm: float


class Bolts(ShopStruct, frozen=True, kw_only=True):
    """Bolts of one kind that hold the plates together."""

    size: str
    """As in "M12" or "1/2-13"."""
    grade: str
    count: int
    hold: Hold = "through"
    """Through to a nut, or tapped into the plate or core."""
    engaged_mm: float | None = None
    """Thread in the tapped hole; None: unknown."""
    radius_mm: float | None = None
    """From the pivot's axis to the bolts; None: unknown."""
    torque_nm: float | None = None
    """What they are tightened to; None: unknown."""


class Groove(ShopStruct, frozen=True, kw_only=True):
    """The groove as measured, at its narrowest place."""

    width_mm: float
    depth_mm: float | None = None


class Bushing(ShopStruct, frozen=True, kw_only=True):
    """The pivot and what turns on it, as measured."""

    pin_mm: float
    bore_mm: float


class Follower(ShopStruct, frozen=True, kw_only=True):
    """What presses the tube round the die."""

    distance_mm: float
    """From the start of bend to the middle of where it bears on the tube."""
    length_mm: float | None = None
    """Of a follower bar, how much of it bears on the tube; None: a roller, or unknown."""


class Material(ShopStruct, frozen=True, kw_only=True):
    """What a core or a plate can be made of: one entry of materials.yaml."""

    material: str
    along_mpa: float
    """Strength along the layers or the grain; where there are none, the strength."""
    across_mpa: float
    """Strength across them."""
    modulus_gpa: float
    softens_c: float | None = None
    """Temperature at which it softens; None: far above any bench."""
    creeps: bool = False
    """True: it gives way in time under a load that it carries at first."""
    source: str


class Materials(ShopStruct, frozen=True, kw_only=True):
    """The file materials.yaml."""

    materials: tuple[Material, ...]


class Rule(ShopStruct, frozen=True, kw_only=True):
    """One rule of a rule set; what isn't written isn't asked."""

    rule: str
    """What it asks, in words."""
    least_radius_od: float | None = None
    """Least centreline radius in outside diameters."""
    most_ovality_pct: float | None = None
    """100 (largest - least diameter) / nominal diameter."""
    least_diameter_ratio: float | None = None
    """Least over largest diameter."""
    least_wall_pct: float | None = None
    """Wall outside the bend over the wall before it."""
    source: str
    from_memory: bool = False


class RuleSet(ShopStruct, frozen=True, kw_only=True):
    """One file of rules/: what a rule book asks of a bend."""

    rules: str
    for_: str
    """What it is for, in words."""
    edition: str
    each: tuple[Rule, ...]
