"""The candidates of a study: how many, in which order, how evenly they fill a space, and why some cannot be built."""

from __future__ import annotations

import datetime
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import qmc
from study_texts import SET, study_of, vary

from throughlight.setup import SetupError, loads
from throughlight.study.even import PRIMES, even_points
from throughlight.study.reading import setup_of
from throughlight.study.space import candidates, geometry_key, whole_key
from throughlight.study.survey import survey

BEARING = vary("head.1.at.bearing", 'from = "-140 deg"\nto = "-100 deg"\nstep = "20 deg"', "bearing")
DISTANCE = vary("head.1.at.distance", 'values = ["40 cm", "15 in"]', "distance")
FLAG = vary("flag.1.present", name="flag")
SHIPPED = Path(__file__).parents[2] / "scenes"


def said(study) -> list[tuple[str, ...]]:
    return [tuple(change.said for change in one.changes) for one in candidates(study)]


def test_a_grid_is_every_combination_the_last_changing_first(tmp_path: Path) -> None:
    study = study_of(tmp_path, BEARING, DISTANCE, FLAG)
    bearings, distances = ("-140 deg", "-120 deg", "-100 deg"), ("40 cm", "15 in")
    assert said(study) == list(itertools.product(bearings, distances, ("in", "out")))
    assert [one.number for one in candidates(study)] == list(range(1, 13))
    first, second = candidates(study)[2].changes[:2]
    assert first.value == pytest.approx(math.radians(-140.0), rel=1e-15)
    assert second.value == pytest.approx(0.381, rel=1e-15)  # an inch is 25.4 mm (exact since 1959)


def test_each_candidate_is_the_set_with_just_that_changed(tmp_path: Path) -> None:
    study = study_of(tmp_path, BEARING, DISTANCE, FLAG)
    by_hand = SET.replace('bearing = "-130 deg", distance = "45 cm"', 'bearing = "-120 deg", distance = "15 in"')
    assert whole_key(setup_of(study, candidates(study)[6])) == whole_key(loads(by_hand))
    begin, end = SET.index("[[flag]]"), SET.rindex("[[flag]]")
    without = by_hand.replace(SET[begin:end], "").replace("# cut from board", 'name = "flag 2"')
    assert candidates(study)[7].changes[2].said == "out"
    assert whole_key(setup_of(study, candidates(study)[7])) == whole_key(loads(without))


def test_keys_that_go_together(tmp_path: Path) -> None:
    ends = 'from = ["-140 deg", "140 deg"]\nto = ["-100 deg", "100 deg"]\ncount = 3\n'
    tied = f'[[vary]]\nname = "both"\nkeys = ["head.1.at.bearing", "head.2.at.bearing"]\n{ends}'
    study = study_of(tmp_path, tied, '[[vary]]\nkeys = ["head.1.energy", "head.2.energy"]\nvalues = ["50 J"]\n')
    assert said(study) == [(f"-{b} deg / {b} deg", "50 J") for b in (140, 120, 100)]
    left, right = setup_of(study, candidates(study)[1]).heads
    assert (left.at[0], left.at[2]) == pytest.approx((-right.at[0], right.at[2]), rel=1e-12)
    assert left.energy == right.energy == 50.0


def test_what_stands_in_something_left_out_makes_no_candidate_of_its_own(tmp_path: Path) -> None:
    width = vary("flag.1.width", 'values = ["10 cm", "20 cm"]', "width")
    study = study_of(tmp_path, FLAG, width)
    assert said(study) == [("in", "10 cm"), ("in", "20 cm"), ("out", "–")]
    assert candidates(study)[2].changes[1].value is None


def test_candidates_listed_by_hand(tmp_path: Path) -> None:
    bearing, flag = vary("head.1.at.bearing", name="bearing"), vary("flag.1.present", name="flag")
    listed = '[[candidate]]\nbearing = "-100 deg"\nflag = "out"\n[[candidate]]\nbearing = "-90 deg"\n[[candidate]]\n'
    study = study_of(tmp_path, bearing, flag, listed)
    assert said(study) == [("-100 deg", "out"), ("-90 deg", "in"), ("-130 deg", "in")]
    assert whole_key(setup_of(study, candidates(study)[2])) == whole_key(loads(SET))


def test_a_modifier_or_a_cloth_varies_by_name(tmp_path: Path) -> None:
    study = study_of(tmp_path, vary("backdrop.cloth", 'values = ["black velvet", "grey paper"]', "cloth"))
    assert [setup_of(study, one).backdrop.surface.name for one in candidates(study)] == ["black velvet", "grey paper"]


def test_budget_and_explore_are_read(tmp_path: Path) -> None:
    study = study_of(
        tmp_path, BEARING, '[budget]\nuntil = "06:30"\ntime_limit = "8 h"\ntolerance = "0.1 stop"\nplaces = 3\n'
    )
    assert study.budget == (datetime.time(6, 30), 28800.0, 0.1, 3)


SAMPLE = (
    vary("head.1.at.bearing", 'from = "-140 deg"\nto = "-100 deg"', "bearing")
    + vary("head.1.at.distance", 'from = "40 cm"\nto = "80 cm"', "distance")
    + vary("head.1.stops", 'values = ["-1 stop", "-2 stop", "-3 stop"]', "stops")
    + '[explore]\nhow = "sample"\ncount = 90\n'
)


def test_a_sample_fills_the_space_and_takes_each_value_as_often(tmp_path: Path) -> None:
    study = study_of(tmp_path, SAMPLE)
    every = candidates(study)
    assert len(every) == 90
    bearings, distances = (np.array([one.changes[i].value for one in every]) for i in (0, 1))
    unit = np.stack([(np.degrees(bearings) + 140.0) / 40.0, (distances - 0.4) / 0.4], axis=1)
    assert unit.min() >= 0.0
    assert unit.max() <= 1.0
    for stops in ("-1 stop", "-2 stop", "-3 stop"):
        assert sum(one.changes[2].said == stops for one in every) in (29, 30, 31)
    # N independent points have a squared centred discrepancy of ((5/4)² − (13/12)²)/N on average (Hickernell 1998, "A
    # generalized discrepancy and quadrature error bound", Math. Comp. 67; the constant worked out from his formula).
    assert qmc.discrepancy(unit, method="CD") < 0.1 * (1.25**2 - (13 / 12) ** 2) / 90


@pytest.mark.parametrize("dimensions", [1, 2, 4, 8])
@pytest.mark.parametrize("count", [20, 90, 216, 1000])
def test_points_are_as_even_as_scipys_scrambled_halton(dimensions: int, count: int) -> None:
    # The centred L2 discrepancy (Hickernell 1998) of one scrambling varies: ours is to lie among scipy's.
    theirs = [qmc.discrepancy(qmc.Halton(dimensions, seed=s).random(count), method="CD") for s in range(40)]
    ours = qmc.discrepancy(even_points(0, count, dimensions), method="CD")
    assert ours < np.mean(theirs) + 4.0 * np.std(theirs, ddof=1)


@pytest.mark.parametrize(("dimension", "base"), list(enumerate(PRIMES[:6])))
def test_the_first_powers_of_a_base_fill_every_interval_once(dimension: int, base: int) -> None:
    # The defining property of the van der Corput sequence, which exchanging digits keeps.
    for power in (1, 2, 3):
        points = even_points(0, base**power, 6)[:, dimension]
        assert sorted((points * base**power).astype(int)) == list(range(base**power))


def test_points_don_t_depend_on_how_many_are_asked_for_at_once() -> None:
    together = even_points(0, 50, 5)
    assert np.array_equal(together[20:35], even_points(20, 15, 5))


def failing(study) -> dict[int, str]:
    return {number: "; ".join(words) for number, words in survey(study).reasons.items()}


def test_candidates_that_cannot_be_built_are_told_and_the_others_go_on(tmp_path: Path) -> None:
    subject = vary("card.fill.at", 'values = [["0 cm", "-1 cm", "0 cm"], ["0 cm", "40 cm", "0 cm"]]', "card")
    power = vary("head.1.stops", 'values = ["-1 stop", "+1 stop"]', "stops")
    seen = vary("flag.1.at.1", 'values = ["-25 cm", "-12 cm"]', "flag")
    assert failing(study_of(tmp_path, subject)).keys() == {1}
    assert 'the card "fill" and the subject "slice" stand in one another' in failing(study_of(tmp_path, subject))[1]
    assert list(failing(study_of(tmp_path, power)).values()) == [
        "left head is asked for 1.0 stops more than it has (200 J of 100 J)"
    ]
    assert list(failing(study_of(tmp_path, seen)).values()) == ["flag 1 (flag) comes into the frame"]
    inside = study_of(tmp_path, vary("camera.at", 'values = [["0 cm", "0 cm", "1 mm"]]', "at"))
    with pytest.raises(SetupError, match=r"candidate 1 of study\.toml: camera: "):
        setup_of(inside, candidates(inside)[0])


def test_a_study_may_allow_what_would_fail(tmp_path: Path) -> None:
    seen = vary("flag.1.at.1", 'values = ["-25 cm", "-12 cm"]', "flag")
    power = vary("head.1.stops", 'values = ["-1 stop", "+1 stop"]', "stops")
    assert failing(study_of(tmp_path, seen, "[explore]\nmay_show = true\n")) == {}
    assert failing(study_of(tmp_path, power, "[explore]\nmay_lack_power = true\n")) == {}


def test_what_the_set_itself_does_is_no_reason(tmp_path: Path) -> None:
    in_frame = SET.replace('at = ["-25 cm", "0 cm", "-8 cm"]', 'at = ["-12 cm", "0 cm", "-8 cm"]')
    assert failing(study_of(tmp_path, BEARING, setup=in_frame)) == {}


def test_the_shipped_study_has_its_candidates() -> None:
    from throughlight.study.file import load_study

    study = load_study(SHIPPED / "agate" / "study.toml")
    every = candidates(study)
    assert [one.name for one in study.varied] == ["bearing", "distance", "flag", "power"]
    assert len(every) == 12 * 9 * 2 * 2
    left = [setup_of(study, every[i]) for i in (4, 5)]
    assert left[0].heads[0].stops != left[1].heads[0].stops
    assert geometry_key(left[0]) == geometry_key(left[1])
