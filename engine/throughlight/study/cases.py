"""The candidates of a study as they are computed: which sets are traced, and who is a traced one's light rescaled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup import Setup, SetupError
from throughlight.study.light import powers
from throughlight.study.question import Study
from throughlight.study.reading import Reader
from throughlight.study.space import Candidate, candidates
from throughlight.study.survey import reasons_of


class Case(NamedTuple):
    """A candidate that can be computed.

    Attributes
    ----------
    candidate
        What it changes in the study's set.
    setup
        Its set.
    geometry
        Stands for all of the set that a trace depends on; equal for candidates that differ in powers alone.
    scale
        (layers,) its light over that of the set traced in its stead.
    """

    candidate: Candidate
    setup: Setup
    geometry: str
    scale: NDArray[np.float64]

    @property
    def number(self) -> int:
        """Return the candidate's number."""
        return self.candidate.number


@dataclass(frozen=True)
class Cases:
    """All candidates of a study: those that can be computed, and why the others cannot.

    Attributes
    ----------
    all
        Every candidate.
    good
        Those that can be computed, in order.
    failed
        Number → reason.
    """

    all: tuple[Candidate, ...]
    good: tuple[Case, ...]
    failed: Mapping[int, str]

    @cached_property
    def traced(self) -> dict[str, Case]:
        """Return the candidate that is traced for each geometry: the first one."""
        first: dict[str, Case] = {}
        for case in self.good:
            first.setdefault(case.geometry, case)
        return first


def cases_of(study: Study) -> Cases:
    """Sort the candidates of a study."""
    everyone, reader = candidates(study), Reader(study)
    good: list[Case] = []
    failed: dict[int, str] = {}
    strength: dict[str, NDArray[np.float64]] = {}
    for candidate in everyone:
        try:
            setup, geometry = reader.read(candidate)
            own = powers(setup)
        except SetupError as trouble:
            failed[candidate.number] = reason_of(trouble)
            continue
        traced = strength.setdefault(geometry, own)
        good.append(Case(candidate, setup, geometry, np.divide(own, traced, out=np.ones_like(own), where=traced > 0.0)))
    return Cases(everyone, tuple(good), failed)


def reason_of(trouble: SetupError) -> str:
    """Return why a candidate cannot be built, as one sentence."""
    return "; ".join(dict.fromkeys(reasons_of(trouble)))
