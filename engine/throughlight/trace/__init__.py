"""Trace: rays, paths, and the driver that decides when the figures are good enough."""
