"""The terminal screens: clients of the plain stream, which decide nothing."""
