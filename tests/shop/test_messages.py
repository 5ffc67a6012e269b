"""What people get wrong in a file, told so that they know what to write."""

from pathlib import Path

import pytest

from benchmate.errors import Refusal
from benchmate.shop import Shop

STARTER = Path(__file__).parents[2] / "configs"


def told(tmp_path: Path, file: str, old: str, new: str) -> str:
    """Change one thing in a file of the starter shop, and give what opening it says."""
    for each in STARTER.rglob("*.yaml"):
        copy = tmp_path / each.relative_to(STARTER)
        copy.parent.mkdir(exist_ok=True)
        text = each.read_text()
        if str(each.relative_to(STARTER)) == file:
            assert old in text
            text = text.replace(old, new, 1)
        copy.write_text(text)
    with pytest.raises(Refusal) as refused:
        Shop.open(tmp_path)
    return str(refused.value)


KNEE = "jobs/trellis-knee.yaml"
TUBE = "tubes/e235-25x2.yaml"


@pytest.mark.parametrize(
    ("file", "change", "where", "says"),
    [
        (
            KNEE,
            ("  - {straight", "\t- {straight"),
            ":8:",
            "a tab stands before the text",
        ),
        (KNEE, ("angle: 90}", "angle: 90"), ":8:", "the { that opens here isn't closed; write }"),
        (KNEE, ("angle: 90", "angle: -90"), "bends 1 angle", "a tube bends one way only; write 90"),
        (TUBE, ("od: 25 mm", "od: 38 in"), "e235-25x2.yaml:4: od", "965.2 mm is no tube"),
        (TUBE, ("od: 25 mm", "od: 38 in"), "e235-25x2.yaml:4: od", "; 38 mm?"),
        (TUBE, ("wall: 2 mm", "wall: 2,5 mm"), "wall", "has a comma; write a point, as in 2.5 mm"),
        (
            TUBE,
            ("yield_strength: 235 MPa\n", ""),
            "yield_strength",
            "the delivery's certificate",
        ),
        (TUBE, ("grade: E235+N", "grade: E235: N"), ":6:", "put quotes round a value"),
        (TUBE, ("wall: 2 mm", "wall: 14 swg"), "wall", "SWG is another gauge"),
    ],
)
def test_a_mistake_is_told_with_its_line_and_what_would_be_right(
    tmp_path: Path, file: str, change: tuple[str, str], where: str, says: str
):
    said = told(tmp_path, file, *change)
    assert where in said
    assert says in said
