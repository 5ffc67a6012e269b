import pytest
from msgspec.structs import replace

from benchmate.sim.bench import HOLE_DEG, RAM_DEG, SimBench
from benchmate.sim.clock import QuickClock


def pump(world, clock, seconds, pace="normal"):
    world.pace = pace
    world.pump(on=True)
    clock.sleep(seconds)
    world.pump(on=False)
    clock.sleep(0.5)


def test_a_new_piece_lies_snug_and_straight(build, clock, die, tube):
    world = build()
    world.load(die, tube, "A")
    clock.sleep(1.0)
    assert world.standing
    assert world.arm_deg == pytest.approx(0.0, abs=1e-9)
    assert world.true_bend_angle == 0.0


@pytest.mark.parametrize("seconds", [10.0, 20.0])
def test_a_bend_obeys_the_sums_of_springback(build, clock, die, tube, seconds):
    world = build()
    world.load(die, tube, "A")
    clock.sleep(1.0)
    pump(world, clock, seconds)
    clock.sleep(1.0)
    world.open_valve()
    peak = world._loaded.peak_deg
    clock.sleep(2.0)
    truth, angle = world.truth, world.true_bend_angle
    spring = (truth.legs_deg + truth.share * angle) * (1 + truth.piece_share) + truth.piece_deg
    assert peak - world.arm_deg == pytest.approx(spring, abs=1e-6)
    assert peak - angle == pytest.approx(truth.slack_deg + spring, abs=1e-6)


def test_an_arm_that_retracts_comes_back_to_zero_and_leaves_the_bend(build, clock, die, tube):
    world = build(follows_tube=False)
    world.load(die, tube, "A")
    clock.sleep(1.0)
    pump(world, clock, 10.0)
    world.open_valve()
    clock.sleep(5.0)
    assert world.arm_deg == pytest.approx(0.0, abs=1e-9)
    assert world.true_bend_angle > 20.0


def test_a_second_press_short_of_the_first_bends_nothing_more(build, clock, die, tube):
    world = build()
    world.load(die, tube, "A")
    clock.sleep(1.0)
    pump(world, clock, 10.0)
    world.open_valve()
    clock.sleep(2.0)
    before = world.true_bend_angle
    pump(world, clock, 0.3, pace="slow")
    assert world.true_bend_angle == before
    pump(world, clock, 10.0)
    assert world.true_bend_angle > before


def test_the_same_setup_is_the_same_truth_in_every_run_and_pieces_differ(build, die, tube):
    first, second = build(seed=6), build(seed=6)
    first.load(die, tube, "A")
    second.load(die, tube, "A")
    assert first.truth == second.truth
    second.load(die, tube, "A")
    assert second.truth.share == first.truth.share
    assert second.truth.piece_deg != first.truth.piece_deg
    first.next_place()
    assert first.truth.piece_deg not in (second.truth.piece_deg, 0.0)


def test_lots_differ_little_and_dice_fall_anew_with_another_seed(build, die, tube):
    shares = []
    for seed in (6, 7):
        world = build(seed=seed)
        for lot in "AB":
            world.load(die, tube, lot)
            shares.append(world.truth.share)
    assert len(set(shares)) == 4
    assert shares[0] == pytest.approx(shares[1], rel=0.4)


def test_each_die_has_slack_and_legs_of_its_own(build, die, tube):
    world = build()
    world.load(die, tube)
    first = world.truth
    world.load(replace(die, die="heron-90-b"), tube)
    assert (world.truth.slack_deg, world.truth.legs_deg) != (first.slack_deg, first.legs_deg)


def test_a_test_may_say_what_the_truth_is(build, die, tube):
    world = build()
    world.load(die, tube, slack_deg=1.0, legs_deg=0.5, share=0.02, piece_deg=0.0, piece_share=0.0)
    assert (world.truth.slack_deg, world.truth.share, world.truth.piece_deg) == (1.0, 0.02, 0.0)


def test_slack_that_is_known_is_nearly_true(build, tube, die):
    world = build()
    world.load(replace(die, slack_deg=2.5), tube)
    assert world.truth.slack_deg == pytest.approx(2.5, abs=0.2)


def test_the_world_is_the_same_however_often_it_is_looked_at(clock, die, tube, build):
    bench = build()._bench
    ends = []
    for looks in (1, 7, 1000):
        clock = QuickClock()
        world = SimBench(bench, clock, 3)
        world.load(die, tube, "A")
        bus = world.bus(1)
        start = clock.now()

        def until(t, clock=clock, world=world, looks=looks, start=start):
            begun = clock.now()
            for k in range(looks):
                clock.sleep(begun + (start + t - begun) * (k + 1) / looks - clock.now())
                if looks > 1:
                    _ = world.arm_deg

        until(2.0)
        world.pump(on=True)
        until(9.1)
        world.pace = "slow"
        until(15.3)
        world.pump(on=False)
        until(16.0)
        peak = world.arm_deg
        world.open_valve()
        until(18.0)
        ends.append((peak, world.arm_deg, world.true_bend_angle))
        bus.close()
    assert ends[1] == pytest.approx(ends[0], abs=1e-9)
    assert ends[2] == pytest.approx(ends[0], abs=1e-9)


def test_a_sample_is_the_same_whoever_asks_how_often(clock, die, tube, build):
    bench = build()._bench
    seen = []
    for naps in (0.0007, 0.0031):
        clock = QuickClock()
        world = SimBench(bench, clock, 3)
        world.load(die, tube, "A")
        bus = world.bus(1)
        for register, value in ((0x12, 0x44), (0x10, 0x52), (0x11, 0x50)):
            bus.write_byte_data(0x6A, register, value)
        clock.sleep(1.0)
        world.pump(on=True)
        start, samples = clock.now(), {}
        while clock.now() < start + 3.0:
            clock.sleep(naps)
            number = int((clock.now() - start) * 100)
            samples.setdefault(number, tuple(bus.read_i2c_block_data(0x6A, 0x22, 12)))
        seen.append(set(samples.values()))
    shared = seen[0] & seen[1]
    assert len(shared) > 100


def test_normal_strokes_are_long_and_slow_ones_short(build, clock, die, tube):
    for pace, least, most in (("normal", 1.99, 4.01), ("slow", 0.59, 1.01)):
        world = build()
        world.load(die, tube)
        clock.sleep(1.0)
        world.pace = pace
        world.pump(on=True)
        clock.sleep(15.0)
        _ = world.arm_deg
        pushes = [move.push for move in world._motion._moves if move.loads]
        assert len(pushes) > 8
        assert all(least <= push <= most for push in pushes)


def test_a_hand_that_stops_in_mid_stroke_stops_within_a_tenth_of_a_second(build, clock, die, tube):
    world = build()
    world.load(die, tube)
    clock.sleep(1.0)
    world.pump(on=True)
    clock.sleep(0.2)
    at_stop = world.arm_deg
    world.pump(on=False)
    clock.sleep(0.1)
    soon = world.arm_deg
    clock.sleep(5.0)
    assert 0.0 < soon - at_stop < 0.5
    assert world.arm_deg == pytest.approx(soon, abs=0.05)
    assert world.standing


def test_the_ram_ends_and_a_bite_takes_up_where_the_tube_was_latched(build, clock, die, tube):
    world = build(bites=True)
    world.load(die, tube)
    clock.sleep(1.0)
    world.pump(on=True)
    clock.sleep(30.0)
    assert world.ram_out
    latched = world.arm_deg
    assert latched == pytest.approx(RAM_DEG - world._home, abs=0.01)
    angle = world.true_bend_angle
    world.take_bite()
    clock.sleep(0.6)
    assert world.arm_deg == pytest.approx(latched)
    assert world._motion.at(clock.now()).deg < RAM_DEG
    clock.sleep(5.0)
    assert not world.ram_out
    assert world._motion.at(clock.now()).deg == pytest.approx(RAM_DEG - HOLE_DEG, abs=0.01)
    assert world.arm_deg == pytest.approx(latched)
    assert world.true_bend_angle == angle
    pump(world, clock, 3.0)
    assert world.true_bend_angle > angle + 5.0


def test_the_swing_goes_up_and_comes_back_after_a_rest(build, clock):
    world = build()
    world.swing()
    angles = []
    for _ in range(120):
        angles.append(world._motion.at(clock.now()).deg)
        clock.sleep(0.1)
    assert angles[:10] == [0.0] * 10
    assert max(angles) == pytest.approx(100.0)
    assert angles[-1] == pytest.approx(0.0, abs=1e-9)


def test_the_box_goes_once_round_with_still_stops_and_ends_as_it_was(build, clock):
    world = build()
    start = world._feel(clock.now()).accel_g
    world.turn_box(stops=12)
    stops, before = set(), None
    while not world.standing:
        turning = world._motion.at(clock.now())
        if turning.dps == 0.0 and before == turning:
            stops.add(round(turning.deg, 6) % 360.0)
        before = turning
        clock.sleep(0.1)
    assert stops == {30.0 * k for k in range(12)}
    assert world._motion.at(clock.now()).deg == pytest.approx(0.0, abs=1e-9)
    assert world._feel(clock.now()).accel_g == pytest.approx(start)


def test_a_protractor_reads_the_bend_with_its_scatter(build, clock, die, tube):
    world = build()
    world.load(die, tube)
    clock.sleep(1.0)
    pump(world, clock, 20.0)
    world.open_valve()
    clock.sleep(2.0)
    errors = [world.measure() - world.true_bend_angle for _ in range(300)]
    mean = sum(errors) / 300
    assert mean == pytest.approx(0.0, abs=0.03)
    assert (sum((e - mean) ** 2 for e in errors) / 300) ** 0.5 == pytest.approx(0.12, abs=0.02)


def test_without_a_tube_there_is_nothing_to_measure(build):
    with pytest.raises(ValueError, match="load one first"):
        build().measure()
    with pytest.raises(ValueError, match="load one first"):
        build().next_place()


def test_opening_the_valve_on_an_unloaded_tube_moves_nothing(build, clock, die, tube):
    world = build()
    world.load(die, tube)
    clock.sleep(1.0)
    world.open_valve()
    clock.sleep(1.0)
    assert world.arm_deg == pytest.approx(0.0, abs=1e-9)
