"""The page on shop files says what the tables say."""

import re
from pathlib import Path

import pytest

from benchmate import units
from benchmate.shop import Shop, field_readers, tables

PAGE = (Path(__file__).parents[2] / "docs" / "shop-files.md").read_text("utf-8")
WRITTEN = {
    "length": units.length_mm,
    "angle": units.angle_deg,
    "strength": units.stress_mpa,
    "modulus": units.modulus_gpa,
    "percentage": field_readers.percentage,
}


@pytest.mark.parametrize(
    "table", ["BENCH", "SENSOR", "ARM", "SIGNALS", "DIE", "TUBE", "JOB", "BEND"]
)
def test_every_key_stands_in_the_page(table: str) -> None:
    for row in getattr(tables, table).rows:
        assert re.search(rf"`[^`\n]*\b{row.key}\b[^`\n]*`", PAGE), row.key


@pytest.mark.parametrize("what", WRITTEN)
def test_every_way_to_write_a_value_is_read(what: str) -> None:
    (row,) = re.findall(rf"^\| {what} \| (.*) \| [^|]* \|$", PAGE, re.MULTILINE)
    ways = re.findall(r"`([^`]+)`", row)
    assert len(ways) > 2
    for way in ways:
        assert WRITTEN[what](way) > 0


def test_the_job_that_the_page_shows_opens_in_the_starter_shop(tmp_path: Path) -> None:
    (job,) = re.findall(r"^    job: knee\n(?:    .*\n)+", PAGE, re.MULTILINE)
    starter = Path(__file__).parents[2] / "configs"
    for file in starter.rglob("*.yaml"):
        copy = tmp_path / file.relative_to(starter)
        copy.parent.mkdir(exist_ok=True)
        copy.write_bytes(file.read_bytes())
    (tmp_path / "jobs" / "knee.yaml").write_text(re.sub("^    ", "", job, flags=re.MULTILINE))
    assert len(Shop.for_job(tmp_path, "knee").job("knee").bends) == 2
