"""A bench to rehearse on: chips by their registers, pump, tube, operator."""
