"""Options' values as people write them, for ``argparse``'s ``type``."""

import argparse

from benchmate.units import angle_deg


def degrees(written: str) -> float:
    """Read "90", "90 deg" or "90deg"; what is no angle is told with what would be right."""
    try:
        return angle_deg(written)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error
