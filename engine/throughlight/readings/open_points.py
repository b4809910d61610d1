"""What readings of a piece leave open, in sentences: nothing that was assumed goes unsaid."""

from __future__ import annotations

from throughlight.readings.piece import PieceReading

_STRANGE = 2.5


def open_points(reading: PieceReading) -> list[str]:
    """Return a sentence for each thing that the readings do not tell, the gravest first."""
    piece = reading.piece
    if piece.published is not None:
        said = [f"published values hold for the sample that was measured; yours differs{_no_spread(reading)}"]
        return [*said, *_taken(reading, "given")]
    said = [*_disagreement(reading), *_separation(reading)]
    if reading.neutral and not piece.photos:
        said.append("colour: a meter reads all bands at once, so the entry is neutral; a photo tells them apart")
    said += _taken(reading, "measured")
    said += [doubt for shot in reading.shots for doubt in shot.doubts]
    return said


def _no_spread(reading: PieceReading) -> str:
    published = reading.piece.published
    if published is None or published.spread > 0.0:
        return ""
    band = "the tables' band is that of the optics alone" if reading.slabs.unsure else "the tables have no band"
    return f"; no spread of theirs is given, so {band}"


def _taken(reading: PieceReading, how: str) -> list[str]:
    """Say which optics are the kind's."""
    taken = [f"{name} {value:.3g}" for name, own, value in _optics(reading) if own is None]
    if not taken:
        return []
    verb = "were" if len(taken) > 1 else "was"
    listed = taken[0] if len(taken) == 1 else f"{', '.join(taken[:-1])} and {taken[-1]}"
    words = f"{listed} {verb} not {how} but taken from the kind ({reading.piece.kind.title})"
    return [f"{words}; the intervals allow for all that such matter has"]


def _optics(reading: PieceReading) -> tuple[tuple[str, float | None, float], ...]:
    piece = reading.piece
    clear = piece.kind.scatter is None
    liquid = piece.kind.roughness == (0.0, 0.0)
    return (
        ("index", piece.n, piece.index),
        ("asymmetry g", 0.0 if clear else piece.g, piece.asymmetry),
        ("roughness", 0.0 if liquid else piece.roughness, piece.faces),
    )


def _disagreement(reading: PieceReading) -> list[str]:
    said = []
    if any(one.misfit > one.allowed for one in reading.beliefs):
        said.append(
            "the readings do not agree with one even material within their error: read again, or allow a larger error; "
            "the intervals here are widened until they do"
        )
    strange = max(one.strange for one in reading.beliefs)
    if strange > _STRANGE:
        said.append(
            f"the piece is unlike its kind ({reading.piece.kind.title}): {strange:.1f} standard deviations from its "
            "middle; is the kind right?"
        )
    return said


def _separation(reading: PieceReading) -> list[str]:
    """Say whether scattering and absorption could be told apart, and what would do it."""
    kind = reading.piece.kind
    if kind.scatter is None:
        return [f"taken as clear ({kind.title}): all that is lost beyond the two faces counts as absorbed"]
    untold = [
        name
        for name, told in (
            ("scattering µs′", all(one.scatter.told for one in reading.beliefs)),
            ("absorption µa", all(one.absorb.told for one in reading.beliefs)),
        )
        if not told
    ]
    if not untold:
        return []
    what = " and ".join(untold)
    through = {one.thickness for one in reading.measured[0] if one.look != "card"}
    carded = any(one.look == "card" for one in reading.measured[0])
    ways = []
    if len(through) == 1:
        ways.append("a reading through another thickness (twice as thick)")
    if not carded:
        ways.append("a reflected reading before black against a grey card")
    lead = "one reading cannot tell scattering from absorption" if len(reading.measured[0]) == 1 else "not told apart"
    tail = f"; {' or '.join(ways)} would narrow it" if ways else ""
    verb = "are" if len(untold) > 1 else "is"
    return [f"{lead}: {what} {verb} a range that the kind ({kind.title}) allows{tail}"]
