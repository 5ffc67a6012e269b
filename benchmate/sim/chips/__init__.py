"""The chips, one file each, as their registers show them on the bus."""
