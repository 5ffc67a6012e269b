"""The load chain: bounds that stay bounds, and grow with what drives them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from msgspec.structs import replace

from benchmate.shop.parts import Die, Tube
from benchmate.shop.tooling import Bolts, Core, Follower, Groove, Material
from benchmate.tooling.limits import limits_of, untold
from benchmate.tooling.load import Share, bolt_n, load_of, moment_of
from benchmate.tooling.proven import LoadCarried, asked

PETG = Material(
    material="petg",
    along_mpa=44,
    across_mpa=25,
    modulus_gpa=2,
    softens_c=70,
    creeps=True,
    source="s",
)
BOLTS = Bolts(size="M12", grade="8.8", count=4, radius_mm=80)
DIE = Die(die="hub", for_od_mm=38.1, centreline_radius_mm=114.3, max_angle_deg=120, bolts=(BOLTS,))


def tube(wall=2.4, strength=300.0, od=38.1):
    return Tube(
        tube="t",
        od_mm=od,
        wall_mm=wall,
        grade="g",
        yield_strength_mpa=strength,
        tensile_strength_mpa=1.3 * strength,
    )


some_tubes = some.builds(tube, some.floats(1.0, 5.0), some.floats(150.0, 800.0))
angles = some.floats(5.0, 120.0)


@settings(max_examples=60, deadline=None)
@given(some_tubes, angles)
def test_the_least_is_never_more_than_the_most(each, angle):
    load = load_of(DIE, each, angle)
    spans = [load.follower_n, load.pressure_mpa, load.wedge_n, load.spread_n]
    for span in (*spans, bolt_n(DIE, load, 80.0)):
        assert 0 <= span.low <= span.high


@settings(max_examples=60, deadline=None)
@given(some_tubes, some.floats(1.05, 1.5))
def test_stronger_tube_loads_every_part_more(each, times):
    stronger = replace(
        each,
        yield_strength_mpa=times * each.yield_strength_mpa,
        tensile_strength_mpa=times * each.tensile_strength_mpa,
    )
    weak, strong = load_of(DIE, each, 90), load_of(DIE, stronger, 90)
    assert strong.moment_nmm > weak.moment_nmm
    assert bolt_n(DIE, strong, 80).high > bolt_n(DIE, weak, 80).high
    assert strong.pressure_mpa.high > weak.pressure_mpa.high


def test_the_follower_s_force_is_moment_over_its_distance():
    die = replace(DIE, follower=Follower(distance_mm=90))
    load = load_of(die, tube(), 90)
    assert load.follower_n.low == load.follower_n.high == pytest.approx(load.moment_nmm / 90)
    unknown = load_of(DIE, tube(), 90).follower_n
    assert unknown.low < load.follower_n.low < unknown.high


def test_a_tube_that_wedges_parts_the_plates_more():
    loose, tight = (
        load_of(replace(DIE, groove=Groove(width_mm=width)), tube(), 90) for width in (38.6, 38.05)
    )
    assert tight.wedge_n.high > 1.5 * loose.wedge_n.high


def test_more_bolts_and_bolts_nearer_to_the_groove_pull_less():
    load = load_of(DIE, tube(), 90)
    many = replace(DIE, bolts=(replace(BOLTS, count=8),))
    assert bolt_n(many, load, 80).high < bolt_n(DIE, load, 80).high
    assert bolt_n(DIE, load, 95).high < bolt_n(DIE, load, 60).high
    assert bolt_n(DIE, load, None).high > bolt_n(DIE, load, 80).high


def test_doubt_of_the_steel_widens_its_moment_and_learning_narrows_it():
    vague = moment_of(tube(), 114.3, Share(1.1, 0.36))
    known = moment_of(tube(), 114.3, Share(1.2, 0.05))
    assert vague.stated == known.stated
    assert vague.likely.high - vague.likely.low > 3 * (known.likely.high - known.likely.low)
    assert vague.likely.low >= 0.5 * vague.stated


def test_infill_bears_less_and_leaves_a_wider_span():
    load = load_of(DIE, tube(), 90)

    def bears(infill):
        die = replace(DIE, core=Core(material="petg", infill_pct=infill, walls=4))
        return limits_of(die, load, {"petg": PETG})[-1].capacity

    full, half = bears(100), bears(50)
    assert full == (25, 44)
    assert half.high < full.high
    assert half.low < half.high / 2


def test_what_isn_t_written_is_named_with_what_it_keeps_from_being_told():
    bare = Die(die="hub", for_od_mm=25, centreline_radius_mm=75, max_angle_deg=180)
    assert [each.split(":")[0] for each in untold(bare)] == [
        "core", "bolts", "groove", "follower", "bushing",
    ]  # fmt: skip
    assert limits_of(bare, load_of(bare, tube(2, od=25), 90), {}) == ()


def test_a_stiff_core_with_a_wider_groove_is_touched_in_a_narrow_line():
    steel = Material(material="steel", along_mpa=235, across_mpa=235, modulus_gpa=205, source="s")
    die = replace(DIE, core=Core(material="steel"), groove=Groove(width_mm=38.6, depth_mm=19))
    *_, touch = limits_of(die, load_of(die, tube(), 90), {"steel": steel})
    assert "peak" in touch.part
    assert touch.demand.low < touch.demand.high
    closer = replace(die, groove=Groove(width_mm=38.2, depth_mm=19))
    *_, close = limits_of(closer, load_of(closer, tube(), 90), {"steel": steel})
    assert close.demand.high < touch.demand.high
    bedded = replace(die, core=Core(material="petg"))
    parts = [each.part for each in limits_of(bedded, load_of(bedded, tube(), 90), {"petg": PETG})]
    assert not any("peak" in part for part in parts)


def test_springback_may_ask_for_a_yes_that_the_strengths_don_t():
    carried = [LoadCarried(tube(), "A", 9, load_of(DIE, tube(), 90), 9)]
    shares = {"A": Share(1.0, 0.05), "B": Share(1.5, 0.05)}
    hard_lot = asked(DIE, tube(), 90, carried, {}, share_of=lambda _tube, lot: shares[lot], lot="B")
    assert hard_lot.ratio == pytest.approx(1.0)
    assert hard_lot.learned_ratio == pytest.approx(1.5)
    assert hard_lot.asks()
    assert not asked(DIE, tube(), 90, carried, {}).asks()
