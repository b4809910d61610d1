"""`python -m throughlight.cli`: the command without its script."""

from throughlight.cli import main

main()
