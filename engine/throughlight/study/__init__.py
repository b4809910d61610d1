"""The overnight comparison: what is asked, how it is computed and never lost, what a person reads of it."""
