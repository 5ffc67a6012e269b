"""A bench to rehearse on: chips by their registers, an arm, a pump, a tube, a person at the pump.

``SimBench(...).bus`` stands in place of ``smbus2.SMBus``; nothing behind it knows the drivers, and
the drivers cannot tell it from a bench.
"""
