"""`throughlight kit`: lists what ships, what it is good for and how far to trust it."""

from __future__ import annotations

import json
from typing import Any

import click

from throughlight.cli.options import WRONG_INPUT, common_options, reported
from throughlight.kit import KINDS, Entry, NotInKit, entries, lookup


@click.command()
@click.argument("kind", type=click.Choice(KINDS), required=False)
@click.argument("name", required=False)
@common_options
@reported
def kit(kind: str | None, name: str | None, as_json: bool, quiet: bool, seed: int | None) -> None:
    """List what ships, or one KIND of it, or everything about the one thing called NAME."""
    try:
        chosen = _chosen(kind, name)
    except NotInKit as trouble:
        click.echo(str(trouble), err=True)
        raise SystemExit(WRONG_INPUT) from None
    if as_json:
        listed = [_as_json(entry) for entry in chosen]
        click.echo(
            json.dumps({"schema": "throughlight/kit/1", "entries": listed}, indent=2, ensure_ascii=False)
        )
    elif quiet:
        for entry in chosen:
            click.echo(entry.name)
    elif name is not None:
        _print_one(chosen[0])
    else:
        _print_all(chosen)


def _chosen(kind: str | None, name: str | None) -> list[Entry]:
    if kind is not None and name is not None:
        return [lookup(kind, name)]
    return [entry for one in (KINDS if kind is None else (kind,)) for entry in entries(one).values()]


def _as_json(entry: Entry) -> dict[str, Any]:
    return {
        "kind": entry.kind,
        "name": entry.name,
        "also": list(entry.also),
        "title": entry.title,
        "good_for": entry.good_for,
        "status": entry.status,
        "source": entry.source,
        "values": dict(entry.values),
    }


def _print_all(chosen: list[Entry]) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    for kind in dict.fromkeys(entry.kind for entry in chosen):
        table = Table(
            box=None, title=kind.capitalize(), title_justify="left", padding=(0, 2, 0, 0), title_style="bold"
        )
        table.add_column("name", no_wrap=True)
        table.add_column("good for", ratio=1)
        table.add_column("status", no_wrap=True)
        for entry in (one for one in chosen if one.kind == kind):
            table.add_row(Text(entry.name), Text(entry.good_for), Text(entry.status))
        console.print(table)
        console.print()
    console.print("Values and source of one: throughlight kit KIND NAME", style="dim")


def _print_one(entry: Entry) -> None:
    click.echo(entry.title)
    lines = {
        "name": f'"{entry.name}"',
        "good for": entry.good_for,
        "status": entry.status,
        "source": entry.source,
    }
    for label, words in {**lines, **{key: _said(value) for key, value in entry.values.items()}}.items():
        click.echo(f"  {label}: {words}")


def _said(value: object) -> str:
    """Return a value as a setup file writes it."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_said(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, str):
        return f'"{value}"'
    return "[" + ", ".join(_said(one) for one in value) + "]" if isinstance(value, list) else str(value)
