"""Leaves out what this machine can't have: sectionproperties has builds for x86-64 alone."""

from importlib.util import find_spec

collect_ignore = [] if find_spec("sectionproperties") else ["test_metal_meshed.py"]
