"""What steel does: sections, moment against curvature, springback of an arc. Pure."""
