"""Throughlight: a Monte Carlo light tracer that answers a photographer in stops with error bars."""

__version__ = "0.1.0"
