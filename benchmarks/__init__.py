"""Benchmarks: the targets of the engine's speed, each beside the peer measured in the same run."""
