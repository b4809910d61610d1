"""The darkroom: exposures become pictures and files."""
