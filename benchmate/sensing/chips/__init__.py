"""The chips: what each data sheet says, and the driver of each."""
