"""Photometry: lx·s and stops, flash output, colour of light, what the lens draws, veil. Plain numbers, no tracing."""
