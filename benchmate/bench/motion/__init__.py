"""What the arm does and what to tell the person at the pump, from readings alone. Pure."""
