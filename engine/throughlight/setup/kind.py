"""One kind of value in a setup file: how it is read, described to an editor, and refused in words."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

_SHOWN = 40


class Kind(ABC):
    """Put into `Annotated`, it makes pydantic read a value with `parse` and describe it with `describe`."""

    @abstractmethod
    def parse(self, value: object) -> Any:  # noqa: ANN401 - each kind returns its own type
        """Return what the value of the file stands for, or raise a `misfit` or `refusal`."""

    @abstractmethod
    def describe(self) -> dict[str, Any]:
        """Return the JSON Schema of what may be written."""

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        """Read with `parse`."""
        return core_schema.no_info_plain_validator_function(self.parse)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe with `describe`."""
        return self.describe()


def found(value: object) -> str:
    """Return how a sentence names a value that was found: short, and never the whole of a big one."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = value if len(value) <= _SHOWN else value[:_SHOWN] + "…"
        return '"' + "".join(c if c.isprintable() else "�" for c in text) + '"'
    if isinstance(value, int):
        return str(value) if value.bit_length() <= 64 else "a number of very many digits"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list | tuple):
        return f"an array of {len(value)}"
    return "a table" if isinstance(value, dict) else f"a {type(value).__name__}"


def misfit(value: object, fits: str) -> PydanticCustomError:
    """Return the error that says what was found and what would fit."""
    return refusal(f"found {found(value)}; {fits}")


def refusal(sentence: str) -> PydanticCustomError:
    """Return the error that says something in words of its own."""
    return PydanticCustomError("misfit", "{sentence}", {"sentence": sentence})
