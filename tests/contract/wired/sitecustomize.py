"""Put a bender on the bus of whatever Python starts with this folder on its path.

Nothing but ``smbus2.SMBus`` is replaced. The chips answer by their registers, from data sheets; the
arm moves in real time as the one who holds the other end of the socket ``BENDER_SOCKET`` says.
"""

import os

if "BENDER_SOCKET" in os.environ:
    import smbus2
    from bender import Bender
    from chips import Wire

    _bender = Bender.listening(os.environ["BENDER_SOCKET"], os.environ.get("BENDER", "{}"))
    smbus2.SMBus = _bender.make_bus(Wire)
