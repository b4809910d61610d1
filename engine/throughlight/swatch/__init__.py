"""Material from measurements: what a slab of matter gives back and passes on, and the matter that a slab was made of."""
