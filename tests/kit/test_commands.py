"""The commands check, kit and new as a user runs them: output, exit codes, and how long they take to answer."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib

import pytest
from click.testing import CliRunner

import throughlight.setup as tls
from throughlight.cli import COMMANDS, main
from throughlight.cli.options import reported
from throughlight.kit.starter import starter_text


def run(*arguments: str):
    return CliRunner().invoke(main, list(arguments))


@pytest.fixture
def starter(tmp_path):
    assert run("new", str(tmp_path), "--quiet").exit_code == 0
    return tmp_path / "set.toml"


def test_new_writes_a_set_that_is_right_and_without_doubts(starter):
    setup = tls.load(starter)
    assert setup.subject is not None
    assert len(setup.heads) == 2
    assert tls.setup_warnings(setup) == []
    assert starter.read_text("utf-8") == starter_text()


def test_new_overwrites_nothing(starter):
    starter.write_text("mine")
    again = run("new", str(starter.parent))
    assert again.exit_code == 2
    assert "set.toml: File exists; a new or empty folder would fit" in again.stderr
    assert starter.read_text() == "mine"


def test_new_where_no_folder_can_be(tmp_path):
    (tmp_path / "file").write_text("")
    assert run("new", str(tmp_path / "file" / "set")).exit_code == 2
    assert run("new", str(tmp_path / "file")).exit_code == 2


def test_check_says_what_the_camera_does(starter):
    checked = run("check", str(starter))
    assert checked.exit_code == 0, checked.output
    for word in (
        "magnification",
        "effective f-number",
        "depth of field",
        "Airy",
        "sync",
        "left head",
        "wire",
    ):
        assert word in checked.output


def test_check_as_json_has_units_in_its_keys(starter):
    checked = run("check", "--json", str(starter))
    data = json.loads(checked.stdout)
    assert (data["schema"], data["seed"], data["warnings"]) == ("throughlight/check/1", 1, [])
    assert data["camera"]["magnification"] == pytest.approx(100 / (650 - 100))
    assert data["camera"]["frame_width_mm"] == pytest.approx(36 * 5.5)
    assert [head["name"] for head in data["power"]["heads"]] == ["left head", "right head"]


def test_check_quiet_prints_doubts_only(starter):
    assert run("check", "--quiet", str(starter)).output == ""
    starter.write_text(starter_text().replace('from = ["0 mm", "35 mm", "0 mm"]', 'from = ["0 mm", "0 mm", "0 mm"]'))
    assert "runs through" in run("check", "--quiet", str(starter)).output


def test_check_schema_needs_no_file():
    schema = json.loads(run("check", "--schema").stdout)
    assert "camera" in schema["properties"]


def test_check_without_a_file_is_a_misuse():
    assert run("check").exit_code == 2


def test_mistakes_end_in_sentences_and_exit_code_2(starter):
    starter.write_text(starter_text().replace('focal = "100 mm"', "focal = 100").replace("seed = 1", "sead = 1"))
    checked = run("check", str(starter))
    assert checked.exit_code == 2
    assert checked.stdout == ""
    assert len(checked.stderr.splitlines()) == 2
    assert "Traceback" not in checked.stderr


def test_a_file_that_is_not_there_ends_in_exit_code_2(tmp_path):
    checked = run("check", str(tmp_path / "none.toml"))
    assert (checked.exit_code, "cannot be read" in checked.stderr) == (2, True)


def test_ctrl_c_ends_in_exit_code_130():
    @reported
    def interrupted() -> None:
        raise KeyboardInterrupt

    with pytest.raises(SystemExit) as left:
        interrupted()
    assert left.value.code == 130


def test_kit_lists_everything_with_its_status():
    listed = run("kit")
    assert listed.exit_code == 0
    for name in ("marble", "black velvet", "white card", "softbox 60x90", "36x24", "published", "demo"):
        assert name in listed.output
    assert run("kit", "cloths", "--quiet").output.splitlines()[0] == "black velvet"


def test_kit_tells_all_about_one():
    told = run("kit", "materials", "marble").output
    assert "Jensen, Marschner, Levoy and Hanrahan 2001" in told
    assert '"2.19 2.62 3.00 1/mm"' in told


def test_kit_as_json():
    data = json.loads(run("kit", "modifiers", "--json").stdout)
    assert data["schema"] == "throughlight/kit/1"
    assert all(entry["kind"] == "modifiers" and entry["source"] for entry in data["entries"])


def test_kit_without_that_name_ends_in_exit_code_2():
    asked = run("kit", "materials", "marbel")
    assert (asked.exit_code, 'did you mean "marble"' in asked.stderr) == (2, True)


def test_help_lists_every_command_without_importing_it():
    assert all(name in run("--help").output for name in COMMANDS)
    assert run("nonsense").exit_code == 2


def _imported_by(*arguments: str) -> set[str]:
    code = (
        "import sys\nfrom throughlight.cli import main\n"
        f"try:\n    main({list(arguments)!r})\nfinally:\n    print('MODULES', *sys.modules, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    return set(done.stderr.rpartition("MODULES")[2].split())


HEAVY = {"numba", "trimesh", "matplotlib", "PIL", "OpenEXR", "shapely", "scipy", "tifffile"}


def test_help_imports_nothing_heavy():
    assert not _imported_by("--help") & (HEAVY | {"numpy", "pydantic", "rich"})


def test_check_imports_nothing_heavy(starter):
    modules = _imported_by("check", str(starter))
    assert "throughlight.readings.camera" in modules
    assert not modules & HEAVY


def test_the_starter_is_valid_toml():
    assert tomllib.loads(starter_text())["title"].startswith("Starter set")


def test_kit_finds_a_bare_name_in_whichever_kind():
    assert run("kit", "marble").output == run("kit", "materials", "marble").output
    assert run("kit", "black", "velvet").output == run("kit", "cloths", "black velvet").output
    (listed,) = json.loads(run("kit", "black velvet", "--json").stdout)["entries"]
    assert (listed["kind"], listed["name"]) == ("cloths", "black velvet")


def test_kit_offers_what_is_spelt_like_a_bare_name():
    asked = run("kit", "marbel")
    assert (asked.exit_code, asked.stdout) == (2, "")
    assert 'nothing called "marbel"; did you mean "marble"' in asked.stderr
    assert "its kinds are bodies, modifiers" in run("kit", "qqqqqqq").stderr
