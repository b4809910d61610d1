"""`python -m throughlight`: the command without its script."""

from __future__ import annotations

from throughlight.cli import main

main()
