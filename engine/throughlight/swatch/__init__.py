"""Material from measurements: what a slab gives back and passes on, and what it was made of."""
