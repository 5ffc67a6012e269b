"""Where the bends go. Pure."""
