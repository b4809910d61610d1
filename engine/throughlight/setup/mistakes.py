"""Mistakes in a setup file: one sentence each, with file, line, column and key; all of a file at once."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mistake:
    """One thing to put right.

    file: as the user named it. line, column: counted from 1; 0 when the mistake has no place in the text.
    key: as in `head[2].energy`, numbered from 1; empty when it concerns the whole file. message: what was found, what
    would fit.
    """

    file: str
    line: int
    column: int
    key: str
    message: str

    def __str__(self) -> str:
        """Return the sentence."""
        place = f"{self.file}, line {self.line}" if self.line > 0 else self.file
        return f"{place}: {self.key}: {self.message}" if self.key else f"{place}: {self.message}"


class SetupError(ValueError):
    """A setup file cannot be used; `mistakes` lists every reason, in the order of the file."""

    def __init__(self, mistakes: list[Mistake]) -> None:
        self.mistakes = mistakes
        super().__init__("\n".join(str(mistake) for mistake in mistakes))
