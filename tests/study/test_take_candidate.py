"""A candidate written as a setup file of its own: it reads as the candidate does, with its files, comments kept."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from study_texts import SET, study_of, vary, write

from throughlight.setup import SetupError, load
from throughlight.study.file import load_study
from throughlight.study.reading import setup_of
from throughlight.study.space import candidates, whole_key
from throughlight.study.take import take

SCENES = Path(__file__).parents[2] / "scenes"
SETS = sorted(file for file in SCENES.rglob("*.toml") if "[camera]" in file.read_text(encoding="utf-8"))
WISH = '[[wanted]]\nreading = "veil"\nat_most = "-6 stop"\n'


def test_the_written_set_is_the_candidate(tmp_path: Path) -> None:
    bearing = vary("head.1.at.bearing", 'values = ["-120 deg"]', "bearing")
    grid = vary("head.2.grid", 'values = ["30 deg"]', "grid")
    study = study_of(tmp_path, bearing, vary("flag.1.present", name="flag"), grid)
    assert [one.said for one in candidates(study)[1].changes] == ["-120 deg", "out", "30 deg"]
    file, *others = take(study, 2, tmp_path / "taken")
    assert (file.name, others) == ("set-2.toml", [])
    taken = load(file)
    assert taken == setup_of(study, candidates(study)[1])
    assert [flag.name for flag in taken.flags] == ["flag 2"]  # it is the first now, and keeps the name it had


def test_comments_are_kept_and_the_first_line_says_where_it_comes_from(tmp_path: Path) -> None:
    study = study_of(
        tmp_path, vary("flag.1.present", name="flag"), vary("head.1.energy", 'values = ["50 J"]', "energy")
    )
    text = take(study, 2, tmp_path / "taken")[0].read_text(encoding="utf-8")
    assert text.splitlines()[0] == f"# Candidate 2 of {study.title} (study.toml): flag out, energy 50 J."
    for comment in re.findall(r"# [a-zA-Z ]+", SET):
        assert comment in text
    assert "# [[flag]]\n# at = " in text
    assert set(SET.splitlines()) - set(text.splitlines()) == {'energy = "100 J"', 'at = ["-25 cm", "0 cm", "-8 cm"]'}


@pytest.mark.parametrize("file", SETS, ids=lambda file: f"{file.parent.name}-{file.stem}")
def test_every_shipped_set_can_be_taken_with_its_files(file: Path, tmp_path: Path) -> None:
    # `take` itself compares the set that it wrote with the candidate, files by what is in them.
    text = f"set = '{file}'\n" + vary("camera.iso", "values = [200, 400]") + WISH
    if "[[head]]" in file.read_text(encoding="utf-8"):
        text += vary("head.1.stops", 'values = ["-1.5 stop"]')
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    study = load_study(tmp_path / "study.toml")
    written = take(study, 2, tmp_path / "taken")
    assert all((tmp_path / "taken") in path.parents for path in written)
    shutil.copytree(tmp_path / "taken", tmp_path / "moved")
    shutil.rmtree(tmp_path / "taken")
    assert whole_key(load(tmp_path / "moved" / written[0].name)) == whole_key(setup_of(study, candidates(study)[1]))


def test_a_file_beside_another_folder_comes_along(tmp_path: Path) -> None:
    shutil.copy(SCENES / "examples" / "assets" / "work-lamp.ies", tmp_path / "lamp.ies")
    (tmp_path / "sets").mkdir()
    setup = SET.replace('energy = "100 J"', 'profile = "../lamp.ies"\noutput = "file"').replace(
        'stops = "-1 stop"\n', ""
    )
    study = study_of(tmp_path / "sets", vary("camera.iso", "values = [200]"), setup=setup)
    file, *others = take(study, 1, tmp_path / "taken")
    assert others == [tmp_path / "taken" / "lamp.ies"]
    assert 'profile = "lamp.ies"' in file.read_text(encoding="utf-8")


def test_nothing_is_overwritten_and_twice_the_same_is_fine(tmp_path: Path) -> None:
    study = study_of(tmp_path, vary("camera.iso", "values = [200, 400]"))
    first = take(study, 1, tmp_path / "taken")
    assert take(study, 1, tmp_path / "taken") == first
    first[0].write_text("mine", encoding="utf-8")
    with pytest.raises(FileExistsError, match="stands there already"):
        take(study, 1, tmp_path / "taken")
    assert first[0].read_text(encoding="utf-8") == "mine"


def test_beside_the_set_itself(tmp_path: Path) -> None:
    study = study_of(tmp_path, vary("camera.iso", "values = [200]"))
    assert take(study, 1, tmp_path) == [tmp_path / "set-1.toml"]
    assert (tmp_path / "set.toml").read_text(encoding="utf-8") == SET


def test_a_candidate_that_is_not_there_or_cannot_be_built(tmp_path: Path) -> None:
    study = study_of(tmp_path, vary("head.1.stops", 'values = ["+1 stop"]'))
    with pytest.raises(SetupError, match="there is no candidate 2; a number from 1 to 1 would fit"):
        take(study, 2, tmp_path / "taken")
    with pytest.raises(SetupError, match=r"asked for 1\.0 stops more than it has"):
        take(study, 1, tmp_path / "taken")
    assert not (tmp_path / "taken").exists()


def test_all_flags_out_of_a_list_written_inline(tmp_path: Path) -> None:
    begin, end = SET.index("[[flag]]"), SET.index("[[card]]")
    inline = 'flag = [ # both\n  { at = ["-25 cm", "0 cm", "-8 cm"], width = "15 cm", height = "30 cm" }, # left\n]\n'
    setup = SET.replace(SET[begin:end], "").replace("[camera]", inline + "[camera]")
    study = load_study(write(tmp_path, 'set = "set.toml"\n' + vary("flag.1.present", "values = [false]"), setup))
    text = take(study, 1, tmp_path / "taken")[0].read_text(encoding="utf-8")
    assert "# both" in text
    assert "# left" in text
