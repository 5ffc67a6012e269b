"""A chip's own errors, learned from static positions, and what they do to an angle."""
