"""Benchmarks: the targets of the engine's speed, each beside the peer measured in the same run.

`python -m benchmarks` prints the table; see `benchmarks/__main__.py`. No timing is asserted anywhere.
"""
