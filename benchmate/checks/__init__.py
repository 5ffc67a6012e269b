"""What works and what doesn't, one probe a module: shop files, store, sensor, pins, supply."""
