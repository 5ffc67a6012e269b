"""Sensor, simulation, store and session put together into the processes that commands start."""
