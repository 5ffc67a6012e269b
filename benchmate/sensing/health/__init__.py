"""Whether samples can be believed: stuck, saturated, shifted, at the wrong rate."""
