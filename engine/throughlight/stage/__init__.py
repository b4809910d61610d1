"""Stage: from a checked description to the flat arrays that a trace reads."""
