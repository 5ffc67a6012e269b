"""How the sensor sits on the arm, learned from one swing, and how good that is."""
