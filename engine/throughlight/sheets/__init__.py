"""Sheets: what a person reads."""
