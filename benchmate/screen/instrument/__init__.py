"""What is drawn by hand: large letters and digits, bar, lamps, drawings."""
