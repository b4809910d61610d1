"""From the checker's findings to sentences a photographer understands, each at its key."""

from __future__ import annotations

import difflib
import types
import typing
from collections.abc import Iterable
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from throughlight.setup.kind import found

Path = tuple[str | int, ...]

_SILENT = {"default_factory_not_called"}
"""Findings that only follow from another one."""


def models_at(location: Iterable[str | int], root: type[BaseModel]) -> list[type[BaseModel]]:
    """Return the tables that may stand at a location: one, or the choices of a table that comes in kinds."""
    choices: list[type[BaseModel]] = [root]
    for step in location:
        if isinstance(step, int):
            continue
        tagged = [model for model in choices if len(choices) > 1 and step in _tags(model)]
        choices = tagged if tagged else [inner for model in choices for inner in _inner(model, step)]
    return choices


def _tags(model: type[BaseModel]) -> tuple[Any, ...]:
    """Return what a model's `shape` or `kind` must say."""
    for name in ("shape", "kind"):
        if name in model.model_fields and get_origin(model.model_fields[name].annotation) is typing.Literal:
            return get_args(model.model_fields[name].annotation)
    return ()


def _inner(model: type[BaseModel], key: str) -> list[type[BaseModel]]:
    for name, field in model.model_fields.items():
        if key == (name if field.alias is None else field.alias):
            return _models_in(field.annotation)
    return []


def _models_in(annotation: object) -> list[type[BaseModel]]:
    """Return the models named anywhere in a type."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    if get_origin(annotation) in (Annotated, tuple, list, types.UnionType, typing.Union):
        return [model for part in get_args(annotation) for model in _models_in(part)]
    return []


def keys_of(models: Iterable[type[BaseModel]]) -> list[str]:
    """Return the keys that the file may use in these tables."""
    fields = (item for model in models for item in model.model_fields.items())
    return list(dict.fromkeys(name if field.alias is None else field.alias for name, field in fields))


def _step(here: object, step: str | int) -> tuple[object] | None:
    """Return what stands at a key or index, in a tuple; None when nothing does."""
    if isinstance(step, int):
        return (here[step],) if isinstance(here, list) and 0 <= step < len(here) else None
    return (here[step],) if isinstance(here, dict) and step in here else None


def raw_path(location: tuple[str | int, ...], raw: object) -> Path:
    """Return the path in the file of a finding's location, which also names the kind of a table that comes in kinds."""
    path: list[str | int] = []
    here = raw
    for step in location:
        inner = _step(here, step)
        if inner is not None:
            here = inner[0]
            path.append(step)
    return tuple(path)


def said_key(path: Path) -> str:
    """Return a path as a reader counts: head[1].at."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            plain = step if len(step) <= 40 and step.isprintable() else found(step)
            text += f".{plain}" if text else plain
    return text


def sentence(error: ErrorDetails, raw: object, root: type[BaseModel]) -> tuple[Path, str, str] | None:
    """Return path, key as said, and the words of one finding; None if it only follows from another.

    Parameters
    ----------
    error
        One of `pydantic.ValidationError.errors()`.
    raw
        What the file says.
    root
        The model of the whole file.
    """
    kind, location = error["type"], error["loc"]
    if kind in _SILENT:
        return None
    path = raw_path(location, raw)
    if kind == "missing":
        key = said_key((*path, location[-1]))
        return path, key, _missing(location, root)
    if kind == "extra_forbidden":
        return path, said_key(path), _unknown(str(location[-1]), keys_of(models_at(location[:-1], root)))
    return path, said_key(path), _plain_words(error, location)


def _missing(location: tuple[str | int, ...], root: type[BaseModel]) -> str:
    for model in models_at(location[:-1], root):
        for name, field in model.model_fields.items():
            if location[-1] == (name if field.alias is None else field.alias):
                examples = _examples(field.metadata, field.annotation)
                what = f" ({field.description})" if field.description is not None else ""
                return f"nothing was found{what}; it has to be given{examples}"
    return "nothing was found; it has to be given"


def _examples(metadata: list[Any], annotation: object) -> str:
    for mark in metadata:
        texts = getattr(mark, "examples", None)
        if texts:
            return ", such as " + (texts[0] if texts[0].replace(".", "").isdigit() else f'"{texts[0]}"')
    return ", as a table" if _models_in(annotation) else ""


def _unknown(key: str, keys: list[str]) -> str:
    near = difflib.get_close_matches(key[:60], keys, n=1, cutoff=0.5)
    name = found(key)
    if near:
        return f'{name} is no key of this table; "{near[0]}" would fit'
    return f"{name} is no key of this table; its keys are {', '.join(keys)}"


def _plain_words(error: ErrorDetails, location: tuple[str | int, ...]) -> str:
    """Return the words for a finding of the checker's own; our own findings already have theirs."""
    kind, value, context = error["type"], error["input"], error.get("ctx", {})
    if kind == "misfit":
        return str(error["msg"])
    if kind == "union_tag_not_found":
        key = str(context["discriminator"]).strip("'")
        return f'found a table without "{key}"; {_choices(key)} would fit'
    if kind == "union_tag_invalid":
        key = str(context["discriminator"]).strip("'")
        return f"found {key} = {found(context['tag'])}; {_quoted(context['expected_tags'])} would fit"
    if kind == "literal_error":
        return f"found {found(value)}; {_quoted(context['expected'])} would fit"
    fits = {
        "tuple_type": f"a table written [[{location[-1]}]] would fit" if location else "a list would fit",
        "string_type": "a text in quotes would fit",
        "string_too_long": f"a text of at most {context.get('max_length')} characters would fit",
        "string_too_short": "a text that is not empty would fit",
        "bool_type": "true or false would fit",
        "too_long": f"at most {context.get('max_length')} of them would fit",
    }.get(kind, "a table would fit")
    return f"found {found(value)}; {fits}"


def _quoted(choices: object) -> str:
    return str(choices).replace("'", '"')


def _choices(key: str) -> str:
    return (
        '"slab", "sphere", "revolve" or "mesh"'
        if key == "kind"
        else '"disc", "rectangle", "tube", "polygon", "picture" or "svg" as the place allows'
    )
