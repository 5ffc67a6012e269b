"""An encoder's own error round its turn, as a few sines of the angle it shows.

Once a turn from a magnet off centre, twice from its tilt and field, four times from the chip
(D. Geisler, "Microcontroller-Based Linearization of Angular Sensor ICs", Allegro MicroSystems).
"""

import math

ORDERS = (1, 2, 4)
FACTORY_SD_DEG = (0.7, 0.5, 0.1)
"""How large a sine or cosine of each order is before correction, 1 sd: some 1.2 deg in all."""


def harmonic_row(shown_deg: float) -> tuple[float, ...]:
    """Give sine and cosine of each order at an angle shown."""
    angle = math.radians(shown_deg)
    return tuple(f(order * angle) for order in ORDERS for f in (math.sin, math.cos))


def correction_deg(shown_deg: float, harmonics_deg: tuple[float, ...]) -> float:
    """Give true less shown [deg] at an angle shown; 0 where nothing was learned."""
    if not harmonics_deg:
        return 0.0
    return math.fsum(
        size * part for size, part in zip(harmonics_deg, harmonic_row(shown_deg), strict=True)
    )
