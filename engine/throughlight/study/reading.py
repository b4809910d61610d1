"""The sets of candidates, read one after the other: what the next one has in common with the study's is not read again.

A table of the study's set that a candidate leaves as it is was read already. Whether things stand in one another or
come into the frame depends on nothing but what a trace depends on, and is asked once for candidates that are traced
once.
"""

from __future__ import annotations

from throughlight.setup import Mistake, Setup, SetupError
from throughlight.setup.checks import between_tables
from throughlight.setup.read import checked, read_again, with_calibration
from throughlight.study.doubts import doubts, doubts_of_use
from throughlight.study.light import bytes_of_parts, geometry_key
from throughlight.study.question import Study
from throughlight.study.space import Candidate, raw_of


class Reader:
    """Reads the sets of one study's candidates."""

    def __init__(self, study: Study) -> None:
        self._study, the_set = study, study.the_set
        own, _ = checked(dict(the_set.raw), the_set.folder, the_set.kit)
        assert own is not None  # it was read when the study was
        self._own, self._told = own, bytes_of_parts(own)
        self._sound: set[tuple[str, ...]] = set()

    def read(self, candidate: Candidate) -> tuple[Setup, str]:
        """Return a candidate's set and its geometry's key.

        Raises
        ------
        SetupError
            When it cannot be built: the reader refuses it, or it does what the study's set doesn't do and the study
            doesn't allow: things stand in one another, come into the frame, are asked for more power than they have.
        """
        raw, the_set = raw_of(self._study, candidate), self._study.the_set
        name = f"candidate {candidate.number} of {self._study.path.name}"
        planned = read_again(raw, the_set.raw, self._own, the_set.folder, the_set.kit)
        if planned is None:
            raise self._refused(candidate, name)
        setup = with_calibration(planned, the_set.folder, name)
        geometry = geometry_key(setup, self._told)
        sound = geometry, *_names(setup)
        if sound not in self._sound and between_tables(planned):
            raise self._refused(candidate, name)
        told = doubts_of_use(setup, self._study.allowed) if sound in self._sound else doubts(setup, self._study.allowed)
        new = [words for what, words in told.items() if what not in self._study.usual_doubts]
        if new:
            raise SetupError([Mistake(name, 0, 0, "", words) for words in new])
        self._sound.add(sound)
        return setup, geometry

    def _refused(self, candidate: Candidate, name: str) -> SetupError:
        """Return every mistake in a candidate's set."""
        the_set = self._study.the_set
        _, findings = checked(raw_of(self._study, candidate), the_set.folder, the_set.kit)
        return SetupError([Mistake(name, 0, 0, key, words) for _, key, words in findings])


def setup_of(study: Study, candidate: Candidate) -> Setup:
    """Return one candidate's set; errors as of `Reader.read`."""
    return Reader(study).read(candidate)[0]


def _names(setup: Setup) -> list[str]:
    """Return the names of all things, which sentences about them, and so what is usual, go by."""
    flats = (setup.cards, setup.flags, setup.sheets, setup.supports)
    return [
        thing.name for things in (setup.heads, setup.windows, *flats, setup.subjects, setup.spots) for thing in things
    ]
