"""A study looked over before it runs: how many candidates, how many sets to trace, which cannot be built and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from throughlight.setup import SetupError
from throughlight.study.question import Study
from throughlight.study.reading import Reader
from throughlight.study.space import Candidate, candidates


@dataclass(frozen=True)
class Survey:
    """What there is to do.

    Attributes
    ----------
    candidates
        All of them.
    geometries
        Number of the candidate → key of what has to be traced for it; failing candidates have none.
    reasons
        Number of the candidate → why it cannot be built.
    """

    candidates: tuple[Candidate, ...]
    geometries: Mapping[int, str]
    reasons: Mapping[int, tuple[str, ...]]

    @cached_property
    def traced(self) -> int:
        """Return how many sets have to be traced; candidates that differ in power alone share one."""
        return len(set(self.geometries.values()))

    @cached_property
    def reasons_by_words(self) -> Mapping[str, tuple[int, ...]]:
        """Return which candidates fail for each reason, the reason of most first."""
        by_words: dict[str, list[int]] = {}
        for number, words in self.reasons.items():
            for one in words:
                by_words.setdefault(one, []).append(number)
        ordered = sorted(by_words.items(), key=lambda item: (-len(item[1]), item[1]))
        return {words: tuple(numbers) for words, numbers in ordered}

    def as_json(self) -> dict[str, Any]:
        """Return the survey as plain data."""
        return {
            "candidates": len(self.candidates),
            "sets_to_trace": self.traced,
            "failed": [
                {"candidate": number, "reasons": list(words), "changes": _changes(self.candidates[number - 1])}
                for number, words in self.reasons.items()
            ],
        }


def _changes(candidate: Candidate) -> dict[str, str]:
    return {change.name: change.said for change in candidate.changes}


def survey(study: Study) -> Survey:
    """Return what there is to do in a study; each candidate's set is read and none is traced."""
    all_of_them, reader = candidates(study), Reader(study)
    geometries: dict[int, str] = {}
    reasons: dict[int, tuple[str, ...]] = {}
    for candidate in all_of_them:
        try:
            _, geometries[candidate.number] = reader.read(candidate)
        except SetupError as trouble:
            reasons[candidate.number] = tuple(reasons_of(trouble))
    return Survey(all_of_them, geometries, reasons)


def reasons_of(trouble: SetupError) -> Iterator[str]:
    """Return why a candidate cannot be built, without its own name before each reason."""
    for mistake in trouble.mistakes:
        yield f"{mistake.key}: {mistake.message}" if mistake.key else mistake.message
