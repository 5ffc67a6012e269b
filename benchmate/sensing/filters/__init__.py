"""From samples to angle, rate and standard deviation: Kalman filters and their mixing."""
