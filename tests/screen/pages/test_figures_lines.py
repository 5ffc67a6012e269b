from benchmate.screen.pages.figures_lines import bend_lines, sensor_lines
from benchmate.stream import Fault, Peak, Rest


def text(lines):
    return "\n".join("".join(piece for piece, _ in line).rstrip() for line in lines)


def test_a_bend_in_figures_tells_its_hits_and_what_a_press_again_would_do(fold, say):
    state = fold(
        say.target(sd=0.6),
        Peak(arm=92.0),
        Rest(arm=89.0, springback=3.0),
        say.verdict("again", bend_angle=89.0, sd=0.1, stop_angle=94.0),
        say.target(hit=2, stop_angle=94.0, sd=0.2),
        Peak(arm=94.1, sure=False),
        Rest(arm=89.9, springback=4.2),
        say.verdict("accept", bend_angle=89.9, sd=0.1, hits=2),
        say.logged(),
    )
    page = text(bend_lines(state, 80))
    assert "wanted 90.0° ±0.5, first stop good to ±1.2" in page
    assert "    1         92.0           89.0          3.0" in page
    assert "    2 94.1 or more           89.9          4.2" in page
    assert "Bent to 89.9°, give or take 0.2." in page
    assert "The hit before had left it at 89.0°, give or take 0.2." in page
    assert "It is in the log." in page


def test_before_a_hit_it_says_what_is_to_be_done(fold, say):
    page = text(bend_lines(fold(say.target(), say.reading(0.0, phase="ready")), 60))
    assert "no hit yet" in page
    assert "Zero is set. Pump." in page
    assert text(bend_lines(fold(), 60)) == " No bend yet."


def test_the_sensors_page_tells_angle_rate_noise_and_faults(fold, say):
    still = [
        say.reading(40.0 + 0.01 * (at % 2), t=at * 0.05, rate=0.0, phase="ready")
        for at in range(60)
    ]
    state = fold(say.target(), *still)
    page = text(sensor_lines(state, still, 100.0, 80))
    assert "40.01°, to ±0.1" in page
    assert "20 a second reach the screen" in page
    assert "0.005° standing still" in page
    assert "No fault stands." in page
    lost = fold(say.target(), *still, Fault(what="bus", detail="no answer at 0x6a"))
    page = text(sensor_lines(lost, still, 100.0, 80))
    assert "no angle that can be trusted" in page
    assert "Fault (bus): no answer at 0x6a" in page


def test_noise_is_not_told_of_an_arm_that_moves(fold, say):
    moving = [say.reading(1.0 * at, t=at * 0.05) for at in range(60)]
    page = text(sensor_lines(fold(say.target(), *moving), moving, 100.0, 80))
    assert "let the arm stand still" in page
