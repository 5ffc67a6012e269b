"""The ground of what the person writes: frozen structs that let nothing unknown in."""

import msgspec


class ShopStruct(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Ground of every struct of the shop's files."""
