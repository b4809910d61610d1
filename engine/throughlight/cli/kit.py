"""`throughlight kit`: lists what ships and what is the user's own, what it is good for and how far to trust it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from throughlight.cli.options import WRONG_INPUT, common_options, reported
from throughlight.kit import KINDS, SHIPPED, Entry, Kit, NotInKit
from throughlight.kit.places import own_files

_BESIDE_HELP = "The set, or its folder, whose kit.toml counts too; the working folder when left out."


@click.command()
@click.argument("words", metavar="[KIND] [NAME]", nargs=-1)
@click.option("--beside", metavar="SET|DIR", type=click.Path(exists=True, path_type=Path), help=_BESIDE_HELP)
@common_options
@reported
def kit(words: tuple[str, ...], beside: Path | None, as_json: bool, quiet: bool, seed: int | None) -> None:
    """List what ships and what is your own, or one KIND of it, or everything about what is called NAME.

    Your own entries stand in a kit.toml beside the set, or in one in your configuration folder; they are written as
    [materials."my soap"], with the keys that a set would write, and like = "marble" begins with another entry.
    """
    kind, name = _asked(words)
    whole = _whole_kit(beside)
    try:
        chosen = _chosen(whole, kind, name)
    except NotInKit as trouble:
        click.echo(str(trouble), err=True)
        raise SystemExit(WRONG_INPUT) from None
    if as_json:
        listed = [_as_json(entry) for entry in chosen]
        click.echo(json.dumps({"schema": "throughlight/kit/1", "entries": listed}, indent=2, ensure_ascii=False))
    elif quiet:
        for entry in chosen:
            click.echo(entry.name)
    elif name is not None:
        for entry in chosen:
            _print_one(entry)
    else:
        _print_all(chosen)


def _asked(words: tuple[str, ...]) -> tuple[str | None, str | None]:
    """Return the kind and the name that were asked for; a name of several words needs no quotes."""
    kind = words[0] if words and words[0] in KINDS else None
    rest = words if kind is None else words[1:]
    return kind, " ".join(rest) if rest else None


def _whole_kit(beside: Path | None) -> Kit:
    """Return the kit for a set, or for the sets in a folder; what reads a user's own files loads only if needed."""
    folder = Path() if beside is None else beside if beside.is_dir() else beside.parent
    if not own_files(folder):
        return SHIPPED
    from throughlight.setup.own_kit import kit_for

    return kit_for(folder)


def _chosen(whole: Kit, kind: str | None, name: str | None) -> list[Entry]:
    if name is not None:
        return whole.lookup_anywhere(name) if kind is None else [whole.lookup(kind, name)]
    return [entry for one in (KINDS if kind is None else (kind,)) for entry in whole.entries(one).values()]


def _as_json(entry: Entry) -> dict[str, Any]:
    return {
        "kind": entry.kind,
        "name": entry.name,
        "also": list(entry.also),
        "title": entry.title,
        "good_for": entry.good_for,
        "status": entry.status,
        "source": entry.source,
        "file": None if entry.file is None else str(entry.file.absolute()),
        "values": dict(entry.values),
    }


def _print_all(chosen: list[Entry]) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    for kind in dict.fromkeys(entry.kind for entry in chosen):
        table = Table(box=None, title=kind.capitalize(), title_justify="left", padding=(0, 2, 0, 0), title_style="bold")
        table.add_column("name", no_wrap=True)
        table.add_column("good for", ratio=1)
        table.add_column("status", no_wrap=True)
        listed = [one for one in chosen if one.kind == kind]
        if any(one.file is not None for one in listed):
            table.add_column("your own, from", overflow="fold")
        for entry in listed:
            home = "" if entry.file is None else str(entry.file)
            table.add_row(
                *(Text(one) for one in (entry.name, entry.good_for, entry.status, home)[: len(table.columns)])
            )
        console.print(table)
        console.print()
    console.print("Values and source of one: throughlight kit NAME", style="dim")


def _print_one(entry: Entry) -> None:
    click.echo(entry.title)
    lines = {
        "name": f'"{entry.name}"',
        "listed under": entry.kind,
        **({"good for": entry.good_for} if entry.good_for else {}),
        "status": entry.status,
        "source": entry.source,
    }
    if entry.file is not None:
        lines["your own, from"] = str(entry.file)
    for label, words in {**lines, **{key: _said(value) for key, value in entry.values.items()}}.items():
        click.echo(f"  {label}: {words}")


def _said(value: object) -> str:
    """Return a value as a setup file writes it."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_said(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, str):
        return f'"{value}"'
    return "[" + ", ".join(_said(one) for one in value) + "]" if isinstance(value, list) else str(value)
