"""A bench companion for bending round tube by hand."""

__version__ = "0.1.0"
