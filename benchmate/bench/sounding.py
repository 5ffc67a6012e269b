"""The tones and lamps that the bench gives: those of the one table, benchmate.signalling."""

from benchmate.signalling import LAMP_TEST_S, LAMPS, Signal, lamp_test, signal

__all__ = ["LAMPS", "LAMP_TEST_S", "Signal", "lamp_test", "signal"]
