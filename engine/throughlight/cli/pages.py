"""What `throughlight shoot` does about its pages: which options go with one, and showing it in the browser."""

from __future__ import annotations

from pathlib import Path

import click


def refuse_misfits(files: int, *, compare: bool, show: bool, preview: bool, stack: bool) -> None:
    """Refuse numbers of setup files and options that don't go together."""
    if compare and files != 2:
        raise click.UsageError(f"--compare lays two sets side by side; found {files} setup file{'s'[: files != 1]}")
    if not compare and files != 1:
        raise click.UsageError(f"found {files} setup files; one would fit, or two with --compare")
    for option, given in (("--focus-stack", stack), ("--preview", preview)):
        if given and (compare or show):
            raise click.UsageError(
                f"{'--compare' if compare else '--open'} doesn't go with {option}, which makes no page"
            )


def show_page(page: Path) -> None:
    """Show a page in the browser; where there is none, its path has been printed."""
    import webbrowser

    webbrowser.open(page.resolve().as_uri())
