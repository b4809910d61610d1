"""Kinds of matter: what a family of the kit's materials lets one expect of a piece that nobody has measured.

A kind's scattering and absorption are told by the middle and the spread of the logarithms over the bands of its
materials. A family is small and a new piece is not one of it: a factor of two either way (one standard deviation,
common sense and no source) is added to the spread in quadrature. Index, asymmetry and roughness have a range each,
which counts as a normal with the standard deviation of an even one; of a piece of one material they are that
material's, but for a little.
"""

from __future__ import annotations

import math
import statistics
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Annotated, Any

from throughlight.kit import Entry, find, nearest, plain_name
from throughlight.setup.kind import Kind, misfit
from throughlight.setup.material import Material

_STRANGER = math.log(2.0)
_TRACE = 1.0  # 1/m; a scattering below it is haze in something clear
_NONE = (math.log(10.0), math.log(10.0))
"""Expected where no material of the kind absorbs: 10 1/m, a factor of ten either way."""

_OF_ONE = {"n": 0.01, "g": 0.05, "roughness": 0.03}
"""How far a piece of a material is from that material, standard deviations: common sense, no source."""

_LONGEST = 80
Normal = tuple[float, float]


@dataclass(frozen=True)
class Family:
    """A kind of matter.

    name: as the kit calls it. title: in words. scatter, absorb: middle and standard deviation of the logarithm of µs′
    and µa in 1/m; scatter None for what is taken as clear. g, n, roughness: middle and standard deviation of the
    asymmetry, the refractive index and the faces' roughness. members: names of the materials. invented: how many of
    them are demo data. alone: whether it is a single material.
    """

    name: str
    title: str
    scatter: Normal | None
    absorb: Normal
    g: Normal
    n: Normal
    roughness: Normal
    members: tuple[str, ...]
    invented: int
    alone: bool = False


@cache
def _tables() -> dict[str, dict[str, Any]]:
    return tomllib.loads((resources.files("throughlight.kit") / "families.toml").read_text("utf-8"))


def family_names() -> tuple[str, ...]:
    """Return the kinds that ship."""
    return tuple(_tables())


def family_of(name: str) -> Family | None:
    """Return the kind of that name, or the kind that is one material of the kit at hand; None if there is none."""
    wanted = plain_name(name)
    for one, table in _tables().items():
        if wanted in (plain_name(word) for word in (one, *table.get("also", ()))):
            entries = [entry for member in table["of"] if (entry := find("materials", member)) is not None]
            return _family(one, table["title"], entries, {key: _even(*table[key]) for key in _OF_ONE})
    entry = find("materials", name)
    if entry is None:
        return None
    material = Material.model_validate(dict(entry.values))
    optics = {key: (float(getattr(material, key)), deviation) for key, deviation in _OF_ONE.items()}
    return _family(entry.name, entry.title, [entry], optics, alone=True)


@dataclass(frozen=True)
class FamilyKind(Kind):
    """Reads a kind of matter by its name."""

    def parse(self, value: object) -> Family:
        """Return the family.

        Raises
        ------
        PydanticCustomError
            When there is none of that name.
        """
        family = family_of(value) if isinstance(value, str) and len(value) <= _LONGEST else None
        if family is not None:
            return family
        near = nearest(["materials"], value) if isinstance(value, str) else None
        also = "" if near is None else f', or a material of the kit such as "{near}"'
        raise misfit(value, f"a kind of matter would fit: {', '.join(family_names())}{also}")

    def describe(self) -> dict[str, Any]:
        """Describe the name for an editor."""
        return {"type": "string", "examples": list(family_names()), "description": "a kind of matter"}


KindOfMatter = Annotated[Family, FamilyKind()]


def _even(low: float, high: float) -> Normal:
    """Return the middle and the standard deviation of an even range."""
    return 0.5 * (low + high), (high - low) / math.sqrt(12.0)


def _family(name: str, title: str, entries: list[Entry], optics: dict[str, Normal], alone: bool = False) -> Family:
    materials = [Material.model_validate(dict(entry.values)) for entry in entries]
    scatter = [one for material in materials for one in material.reduced_scattering]
    absorb = [one for material in materials for one in material.absorption if one > 0.0]
    hazy = [one for one in scatter if one > 0.0]
    return Family(
        name=name,
        title=title,
        scatter=None if not hazy or statistics.median(scatter) < _TRACE else _normal(hazy),
        absorb=_normal(absorb) if absorb else _NONE,
        g=optics["g"],
        n=optics["n"],
        roughness=optics["roughness"],
        members=tuple(entry.name for entry in entries),
        invented=sum(entry.status == "demo" for entry in entries),
        alone=alone,
    )


def _normal(values: list[float]) -> Normal:
    logs = [math.log(one) for one in values]
    return statistics.fmean(logs), math.hypot(statistics.pstdev(logs), _STRANGER)
