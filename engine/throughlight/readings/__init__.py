"""Readings: from tallies to figures in stops, their intervals and verdicts."""
