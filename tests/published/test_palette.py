"""The screen's colours as colour-blind eyes see them, by a published simulation.

G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of
Color Vision Deficiency", IEEE Trans. Visualization and Computer Graphics 15 (2009): the matrices
for severity 1.0 (from memory), on linear sRGB. Differences by CIEDE2000 (CIE 142-2001); the formula
is checked against pairs of the test data of G. Sharma, W. Wu, E. N. Dalal, Color Research and
Application 30 (2005), table 1 (from memory).
"""

import itertools
import math

import numpy as np
import pytest

from benchmate.screen.instrument.palette import DAY, NIGHT, Palette

SIMULATIONS = {
    "normal": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
MEANINGS = ("plain", "good", "bad", "act", "attend")
APART = 10.0
"""CIEDE2000: 1 is just seen side by side, 10 at a glance (judgement)."""
Lab = tuple[float, float, float]


def linear(colour: str) -> np.ndarray:
    channels = np.array([int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> Lab:
    """CIELAB under D65 from linear sRGB (IEC 61966-2-1)."""
    to_xyz = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    )
    relative = to_xyz @ np.clip(rgb, 0.0, 1.0) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(relative > 216 / 24389, np.cbrt(relative), (24389 / 27 * relative + 16) / 116)
    return float(116 * f[1] - 16), float(500 * (f[0] - f[1])), float(200 * (f[1] - f[2]))


def ciede2000(one: Lab, two: Lab) -> float:
    mean_c = (math.hypot(*one[1:]) + math.hypot(*two[1:])) / 2
    g = 0.5 * (1 - math.sqrt(mean_c**7 / (mean_c**7 + 25**7)))
    a1, a2 = one[1] * (1 + g), two[1] * (1 + g)
    c1, c2 = math.hypot(a1, one[2]), math.hypot(a2, two[2])
    h1, h2 = (
        math.degrees(math.atan2(b, a)) % 360 if a or b else 0.0
        for a, b in ((a1, one[2]), (a2, two[2]))
    )
    turn = 0.0 if c1 * c2 == 0 else (h2 - h1 + 180) % 360 - 180
    if turn == -180.0 and h2 > h1:
        turn = 180.0
    delta_h = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn / 2))
    mean_l, mean_c = (one[0] + two[0]) / 2, (c1 + c2) / 2
    if c1 * c2 == 0:
        mean_h = h1 + h2
    elif abs(h1 - h2) <= 180:
        mean_h = (h1 + h2) / 2
    else:
        mean_h = (h1 + h2 + (360 if h1 + h2 < 360 else -360)) / 2
    t = 1 - 0.17 * math.cos(math.radians(mean_h - 30))
    t += 0.24 * math.cos(math.radians(2 * mean_h)) + 0.32 * math.cos(math.radians(3 * mean_h + 6))
    t -= 0.20 * math.cos(math.radians(4 * mean_h - 63))
    s_l = 1 + 0.015 * (mean_l - 50) ** 2 / math.sqrt(20 + (mean_l - 50) ** 2)
    s_c, s_h = 1 + 0.045 * mean_c, 1 + 0.015 * mean_c * t
    rotation = 60 * math.exp(-(((mean_h - 275) / 25) ** 2))
    r_t = -2 * math.sqrt(mean_c**7 / (mean_c**7 + 25**7)) * math.sin(math.radians(rotation))
    light, c, h = (two[0] - one[0]) / s_l, (c2 - c1) / s_c, delta_h / s_h
    return math.sqrt(light * light + c * c + h * h + r_t * c * h)


@pytest.mark.parametrize(
    ("one", "two", "difference"),
    [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 2.8361, -74.02), (50.0, 0.0, -82.7485), 3.4412),
        ((50.0, -1.0, 2.0), (50.0, 0.0, 0.0), 2.3669),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
        ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
        ((90.9257, -0.5406, -0.9208), (88.6381, -0.8985, -0.7239), 1.5381),
        ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
    ],
)
def test_the_difference_is_that_of_the_published_pairs(one, two, difference):
    assert ciede2000(one, two) == pytest.approx(difference, abs=1e-4)


@pytest.mark.parametrize("vision", SIMULATIONS)
@pytest.mark.parametrize("palette", [NIGHT, DAY], ids=["night", "day"])
def test_each_two_meanings_stay_apart_for_every_eye(palette: Palette, vision: str):
    seen = {}
    for meaning in MEANINGS:
        colour = palette.styles[meaning].color
        assert colour is not None
        seen[meaning] = lab(SIMULATIONS[vision] @ linear(colour.name))
    apart = {
        (one, two): ciede2000(seen[one], seen[two]) for one, two in itertools.combinations(seen, 2)
    }
    assert min(apart.values()) >= APART, apart


@pytest.mark.parametrize("palette", [NIGHT, DAY], ids=["night", "day"])
def test_every_meaning_stands_out_from_its_ground(palette: Palette):
    """Contrast of 3 to 1 at least, as large text asks for (W3C, WCAG 2.1, 1.4.3)."""

    def luminance(colour: str) -> float:
        return float(np.array([0.2126, 0.7152, 0.0722]) @ linear(colour))

    ground = luminance(palette.background)
    for meaning in MEANINGS:
        colour = palette.styles[meaning].color
        assert colour is not None
        lighter, darker = sorted((luminance(colour.name), ground), reverse=True)
        assert (lighter + 0.05) / (darker + 0.05) >= 3.0, meaning
