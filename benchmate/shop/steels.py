"""Common tube steels with the least strengths that their standards ask for, out of a table."""

from pathlib import Path

from benchmate import units
from benchmate.errors import Refusal
from benchmate.shop.field_readers import (
    Report,
    Row,
    Table,
    free_text,
    list_of,
    table_of,
    value_of,
)
from benchmate.shop.nodes import UnreadableError, read_nodes
from benchmate.shop.struct import ShopStruct
from benchmate.wording import nearest, printable


class Steel(ShopStruct, frozen=True, kw_only=True):
    """A grade with its least strengths, as written and in MPa."""

    grade: str
    standard: str
    yield_strength: str
    tensile_strength: str
    modulus: str = ""

    @property
    def yield_strength_mpa(self) -> float:
        """Give the least yield strength [MPa]."""
        return units.stress_mpa(self.yield_strength)

    @property
    def tensile_strength_mpa(self) -> float:
        """Give the least tensile strength [MPa]."""
        return units.stress_mpa(self.tensile_strength)


def _strength(text: str) -> str:
    units.stress_mpa(text)
    return text


def _modulus(text: str) -> str:
    units.modulus_gpa(text)
    return text


STEEL: Table[Steel] = Table(
    Steel,
    (
        Row("grade", "grade", value_of(free_text)),
        Row("standard", "standard", value_of(free_text)),
        Row("yield_strength", "yield_strength", value_of(_strength)),
        Row("tensile_strength", "tensile_strength", value_of(_strength)),
        Row("modulus", "modulus", value_of(_modulus), needed=False),
    ),
)


def read_steels(path: Path) -> tuple[Steel, ...]:
    """Read the table of steels; Refusal with all that is wrong in it, a line each."""
    report = Report(printable(str(path), 400))
    found: tuple[Steel, ...] | None = None
    try:
        found = list_of(table_of(STEEL), 1, 200)(read_nodes(path), "steel", report)
    except UnreadableError as error:
        report.say(error.line, "", error.says)
    if report.problems or found is None:
        raise Refusal("\n".join(map(str, report.problems)))
    return found


def steel_named(steels: tuple[Steel, ...], name: str) -> Steel | None:
    """Give the steel of that grade, in any case of letters; None where the table has none."""
    wanted = " ".join(name.lower().split())
    return next((steel for steel in steels if steel.grade.lower() == wanted), None)


def near_grades(steels: tuple[Steel, ...], name: str) -> str:
    """Name a grade that may have been meant, else all of them."""
    close = nearest(name, [steel.grade for steel in steels])
    return close or ", ".join(steel.grade for steel in steels)
