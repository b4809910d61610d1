"""Optics: one physical idea a file, pure scalar functions that run inside a trace."""
