"""A user's own kit file: what it adds and changes, which of two wins, and what is said when it is wrong."""

from __future__ import annotations

import json
import re
import threading
from pathlib import Path

import pytest
from click.testing import CliRunner

import throughlight.setup as tls
from throughlight import kit
from throughlight.cli import main
from throughlight.kit.places import configuration_folder, own_files
from throughlight.kit.starter import starter_text
from throughlight.setup import Mistake, SetupError
from throughlight.setup.own_kit import _beside, kit_for
from throughlight.setup.own_uses import USES

SOAP = """
[materials."my soap"]
also = ["green bar"]
like = "glycerine soap"
absorption = "20 5 30 1/m"
"""


@pytest.fixture
def settings(tmp_path, monkeypatch):
    """Return the folder in which the user's kit file is looked for."""
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    folder = tmp_path / "settings" / "throughlight"
    folder.mkdir(parents=True)
    return folder


@pytest.fixture
def beside(tmp_path):
    """Return the folder of a set."""
    folder = tmp_path / "set"
    folder.mkdir()
    return folder


def write(folder: Path, text: str) -> None:
    (folder / "kit.toml").write_text(text, "utf-8")


def the_set(material: str = '"agate"') -> str:
    return starter_text().replace('material = "agate"', f"material = {material}")


def material_of(setup: tls.Setup) -> tls.Material:
    assert setup.subject is not None
    assert setup.subject.material is not None
    return setup.subject.material


def mistakes_in(folder: Path) -> list[Mistake]:
    with pytest.raises(SetupError) as caught:
        kit_for(folder)
    assert all(mistake.file == str(folder / "kit.toml") for mistake in caught.value.mistakes)
    assert all("\n" not in str(mistake) for mistake in caught.value.mistakes)
    return caught.value.mistakes


def the_mistake_in(folder: Path, text: str) -> Mistake:
    write(folder, text)
    (mistake,) = mistakes_in(folder)
    return mistake


def test_an_entry_of_ones_own_begins_with_another(beside):
    write(beside, SOAP)
    for name in ('"my soap"', '"My-Soap"', '"green bar"'):
        read = material_of(tls.loads(the_set(name), folder=beside))
        assert read.name == "my soap"
        assert read.absorption == pytest.approx((20.0, 5.0, 30.0))
        assert (read.n, read.g, read.roughness) == (1.47, 0.7, 0.1)
    changed = material_of(tls.loads(the_set('{ like = "my soap", n = 1.5 }'), folder=beside))
    assert (changed.absorption, changed.n, changed.name) == ((20.0, 5.0, 30.0), 1.5, "my soap")


def test_bookkeeping_may_be_left_out(beside):
    write(beside, SOAP + '\n[cloths.mine]\nreflectance = 0.1\nstatus = "published"\ngood_for = "this"\n')
    soap, mine = kit_for(beside).lookup("materials", "my soap"), kit_for(beside).lookup("cloths", "mine")
    assert (soap.title, soap.good_for, soap.status) == ("my soap", "", "own")
    assert soap.source == 'your own kit file, after "glycerine soap"'
    assert (mine.title, mine.good_for, mine.status, mine.source) == ("mine", "this", "published", "your own kit file")
    assert soap.file == mine.file == beside / "kit.toml"
    assert kit.lookup("materials", "marble").file is None


def test_beside_the_set_wins_over_the_configuration_folder_and_that_over_what_ships(settings, beside):
    write(settings, "[materials.marble]\nlike = 'marble'\nn = 1.6\n[materials.theirs]\nlike = 'marble'\n")
    assert material_of(tls.loads(the_set('"marble"'), folder=beside)).n == 1.6
    assert material_of(tls.loads(the_set('"theirs"'), folder=beside)).n == 1.6
    write(beside, "[materials.marble]\nlike = 'marble'\nroughness = 0.2\n")
    both = material_of(tls.loads(the_set('"marble"'), folder=beside))
    assert (both.n, both.roughness) == (1.6, 0.2)
    assert material_of(tls.loads(the_set('"theirs"'), folder=beside)).roughness == 0.0
    assert kit.lookup("materials", "marble").values["n"] == 1.5
    assert next(iter(kit_for(beside).entries("materials"))) == "marble"


def test_a_cloth_of_ones_own_wins_over_a_surface_that_ships_under_its_name(beside):
    write(beside, '[cloths."white card"]\nreflectance = 0.5\n')
    text = the_set() + '\n[[card]]\nat = ["30 cm", "0 cm", "0 cm"]\nwidth = "10 cm"\nheight = "10 cm"\n'
    text += 'front = "white card"\nback = { like = "white card", reflectance = 0.4 }\n'
    card = tls.loads(text, folder=beside).cards[0]
    assert (card.front.reflectance[0], card.back.reflectance[0], card.back.name) == (0.5, 0.4, "white card")


def test_a_default_finish_is_looked_up_in_the_own_file_too_and_ships_outside_of_a_set(beside):
    write(beside, '[surfaces."white card"]\nreflectance = 0.5\n')
    place = {"at": ["30 cm", "0 cm", "0 cm"], "width": "10 cm", "height": "10 cm"}
    text = the_set() + '\n[[card]]\nat = ["30 cm", "0 cm", "0 cm"]\nwidth = "10 cm"\nheight = "10 cm"\n'
    assert tls.loads(text, folder=beside).cards[0].front.reflectance[0] == 0.5
    assert tls.Card.model_validate(place).front.reflectance[0] == 0.85


def test_modifiers_and_bodies_of_ones_own(beside):
    text = '[modifiers."my bowl"]\nlike = "bowl 12 cm"\nbeam = "50 deg"\n'
    write(beside, text + '[bodies.mine]\nsensor = "30x20 mm"\nsync = "1/100 s"\n')
    named = the_set().replace('modifier = "bowl 12 cm"', 'modifier = "my bowl"')
    setup = tls.loads(named.replace('sensor = "36x24"', 'body = "mine"'), folder=beside)
    assert setup.heads[0].beam == pytest.approx(0.8726646)
    assert (setup.heads[0].modifier, setup.heads[0].efficiency) == ("my bowl", 0.7)
    assert (setup.camera.sensor_width, setup.camera.sync) == (0.03, 0.01)
    assert tls.loads(the_set().replace('sensor = "36x24"', 'sensor = "mine"'), folder=beside).camera.sensor[1] == 0.02


def test_sets_read_at_the_same_time_keep_to_their_own_folders(tmp_path):
    """Two threads read in turn, each in step with the other."""
    folders = [tmp_path / name for name in ("a", "b")]
    for i, folder in enumerate(folders):
        folder.mkdir()
        write(folder, f"[materials.mine]\nlike = 'marble'\nn = 1.{i + 1}\n")
    seen: dict[int, set[float]] = {0: set(), 1: set()}
    together = threading.Barrier(2)

    def read(i: int) -> None:
        for _ in range(20):
            together.wait(20.0)
            seen[i].add(material_of(tls.loads(the_set('"mine"'), folder=folders[i])).n)

    threads = [threading.Thread(target=read, args=(i,)) for i in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert seen == {0: {1.1}, 1: {1.2}}
    assert kit.find("materials", "mine") is None


LAMP = """IESNA:LM-63-2002
TILT=NONE
1 -1 1 3 1 1 2 0.1 0.1 0
1 1 100
0 45 90
0
1000 700 0
"""


def test_a_file_that_an_entry_names_is_found_beside_the_kit_file(settings, beside):
    text = '[modifiers."my lamp"]\nprofile = "lamp.ies"\nface = { shape = "disc", diameter = "10 cm" }\n'
    write(settings, text + '[modifiers."my other lamp"]\nlike = "my lamp"\nefficiency = 0.5\n')
    with pytest.raises(SetupError, match=r'kit\.toml, line 2: modifiers\."my lamp"\.profile: found "lamp.ies"'):
        kit_for(beside)
    (settings / "lamp.ies").write_text(LAMP)
    for name in ("my lamp", "my other lamp"):
        setup = tls.loads(the_set().replace('modifier = "bowl 12 cm"', f'modifier = "{name}"'), folder=beside)
        assert setup.heads[0].profile is not None


def test_files_are_known_by_their_ending_wherever_they_stand(tmp_path):
    value = {"map": {"picture": "../a b.PNG", "width": "9 cm"}, "files": ["x.ies"], "n": 1.5, "say": "x.ies of mine"}
    assert _beside(value, tmp_path) == {
        "map": {"picture": str(tmp_path / "../a b.PNG"), "width": "9 cm"},
        "files": [str(tmp_path / "x.ies")],
        "n": 1.5,
        "say": "x.ies of mine",
    }


def test_a_gel_of_ones_own(beside):
    write(beside, '[gels."my rose"]\ntransmittance = [0.9, 0.4, 0.5]\n[gels.half]\nlike = "half warming"\n')
    for name in ("my rose", "half"):
        text = the_set().replace('modifier = "bowl 12 cm"', f'modifier = "bowl 12 cm"\ngel = "{name}"')
        gel = tls.loads(text, folder=beside).heads[0].gel
        assert gel is not None
        assert (gel.transmittance, gel.mired is None) == (
            ((0.9, 0.4, 0.5), True) if name == "my rose" else (None, False)
        )


@pytest.mark.parametrize(
    ("text", "line", "key", "words"),
    [
        ("[material.x]\nn = 1\n", 1, "material", '"material" is no key of this table; "materials" would fit'),
        ("[materials]\nx = 3\n", 2, 'materials."x"', 'found 3; a table written [materials."a name"] would fit'),
        ("materials = 3\n", 1, "materials", 'found 3; tables written [materials."a name"] would fit'),
        (
            '[cloths."my cloth"]\nreflectanse = 0.3\nreflectance = 0.2\n',
            2,
            'cloths."my cloth".reflectanse',
            '"reflectanse" is no key of this table; "reflectance" would fit',
        ),
        (
            '[cloths.x]\nreflectance = 0.2\ngood_fro = "all"\n',
            3,
            'cloths."x".good_fro',
            '"good_fro" is no key of this table; "good_for" would fit',
        ),
        ("[cloths.x]\nreflectance = 1.2\n", 2, 'cloths."x".reflectance', "found 1.2; "),
        ("[cloths.x]\nkind = 'cloth'\n", 1, 'cloths."x".reflectance', "nothing was found (share of the light"),
        ("\n[cloths.x]\nreflectance = 0.2\npile = 0.1\n", 4, 'cloths."x".pile', "found a pile on a matte finish"),
        (
            '[materials.x]\nlike = "marble"\nabsorption = "2 /kg"\n',
            3,
            'materials."x".absorption',
            'found "2 /kg"',
        ),
        ('[modifiers.x]\nlike = "bowl"\nbeam = "50"\n', 3, 'modifiers."x".beam', 'found "50"; a unit is missing'),
        (
            '[modifiers.x]\nface = { shape = "disc", diameter = 3 }\n',
            2,
            'modifiers."x".face.diameter',
            "found 3; a unit is missing",
        ),
        (
            '[modifiers.x]\nlike = "bowl"\nenergy = "100 J"\n',
            3,
            'modifiers."x".energy',
            'found "energy", which is for the set to say; an entry without it would fit',
        ),
        ("[bodies.x]\nsync = '1/100 s'\n", 1, 'bodies."x".sensor', "nothing was found; it has to be given"),
        (
            '[materials.x]\nlike = "marbel"\n',
            2,
            'materials."x".like',
            'found "marbel", which is not among the materials of the kit; the kit has "marble"',
        ),
        ("[materials.x]\nlike = 3\n", 2, 'materials."x".like', "found 3; the name of an entry in quotes would fit"),
        (
            "[cloths.x]\nreflectance = 0.2\ntitle = 4\n",
            3,
            'cloths."x".title',
            "found 4; a text in quotes of up to 1000 characters would fit",
        ),
        (
            "[cloths.x]\nreflectance = 0.2\nstatus = 'good'\n",
            3,
            'cloths."x".status',
            'found "good"; one of published, computed, common practice, demo, own would fit',
        ),
        ("[cloths.x]\nreflectance = 0.2\nalso = 'y'\n", 3, 'cloths."x".also', 'found "y"; a list of names'),
        (
            "[cloths.x]\nreflectance = 0.2\n[cloths.X]\nreflectance = 0.3\n",
            3,
            'cloths."X"',
            'found "X" a second time (first in cloths."x"); a name of its own would fit',
        ),
        (
            '[cloths."a\\nb"]\nreflectance = 0.2\n',
            1,
            'cloths."a�b"',
            "a name of up to 80 letters on one line would fit",
        ),
        ("[cloths.x\n", 1, "", "this is not TOML"),
    ],
)
def test_a_mistake_in_a_kit_file_is_said_at_its_place(beside, text, line, key, words):
    mistake = the_mistake_in(beside, text)
    assert (mistake.line, mistake.key) == (line, key)
    assert words in mistake.message


def test_a_circle_is_said_once(beside):
    mistake = the_mistake_in(beside, "[cloths.a]\nlike = 'b'\n[cloths.b]\nlike = 'c'\n[cloths.c]\nlike = 'b'\n")
    assert (mistake.line, mistake.key) == (4, 'cloths."b".like')
    assert mistake.message.startswith('found "b" → "c" → "b", which leads back to itself')


def test_a_faulty_entry_is_said_once_however_many_are_like_it(beside):
    text = "[cloths.a]\nlike = 'b'\n[cloths.b]\nreflectance = 'much'\n[cloths.c]\nlike = 'nothing such'\n"
    write(beside, text + "[cloths.d]\nlike = 'c'\n")
    assert [mistake.key for mistake in mistakes_in(beside)] == ['cloths."b".reflectance', 'cloths."c".like']


def test_a_long_chain_of_entries_ends(beside):
    chain = "".join(f"[cloths.c{i}]\nlike = 'c{i + 1}'\n" for i in range(500))
    write(beside, chain + "[cloths.c500]\nreflectance = 0.2\n")
    assert "more than 20 entries each like the next" in mistakes_in(beside)[0].message


def test_the_set_is_refused_in_the_words_of_its_kit_file(beside):
    write(beside, "[materials.x]\nlike = 'marble'\nn = 9\n")
    (beside / "set.toml").write_text(the_set(), "utf-8")
    checked = CliRunner().invoke(main, ["check", str(beside / "set.toml")])
    assert (checked.exit_code, checked.stdout) == (2, "")
    assert checked.stderr.startswith(f'{beside / "kit.toml"}, line 3: materials."x".n: found 9; ')


@pytest.mark.parametrize("content", [b"\xff\xfe", b"[" * 10_000, b"x = " + b"9" * 10_000, b"a." * 5000 + b"b = 1"])
def test_a_broken_kit_file_never_ends_in_a_traceback(beside, content):
    (beside / "kit.toml").write_bytes(content)
    assert mistakes_in(beside)
    (beside / "kit.toml").write_bytes(
        b"[materials.x]\nlike = 'marble'\n" + b"a." * 5000 + b"b = 1\n[materials.y]\nlike='x'\n"
    )
    assert mistakes_in(beside)[0].key.startswith('materials."x".a')


def test_a_kit_file_that_is_a_folder_or_too_big(beside):
    (beside / "kit.toml").mkdir()
    assert "found a folder; a kit file (TOML) would fit" in mistakes_in(beside)[0].message
    (beside / "kit.toml").rmdir()
    write(beside, "#" * 5_000_001)
    assert "found more than 5 MB; a smaller kit file would fit" in mistakes_in(beside)[0].message
    write(beside, "".join(f"[cloths.c{i}]\nreflectance = 0.2\n" for i in range(1001)))
    assert "found 1001 entries; up to 1000 would fit" in mistakes_in(beside)[0].message


def test_the_configuration_folder_of_each_system():
    """XDG Base Directory Specification 0.8: $HOME/.config when unset, relative paths ignored. The others: common
    practice of the systems, no source."""
    home = Path("/home/a")
    assert configuration_folder("linux", {}, home) == home / ".config/throughlight"
    assert configuration_folder("linux", {"XDG_CONFIG_HOME": "/b"}, home) == Path("/b/throughlight")
    assert configuration_folder("linux", {"XDG_CONFIG_HOME": "b"}, home) == home / ".config/throughlight"
    assert configuration_folder("darwin", {"XDG_CONFIG_HOME": "/b"}, home) == home / (
        "Library/Application Support/throughlight"
    )
    assert configuration_folder("win32", {"APPDATA": "/b"}, home) == Path("/b/throughlight")
    assert configuration_folder("win32", {}, home) == home / "AppData/Roaming/throughlight"


def test_no_kit_file_is_no_mistake(beside):
    assert own_files(beside) == own_files(beside / "nothing") == own_files(Path("a\0b")) == []
    assert kit_for(beside).own == ()


def test_every_kind_says_what_its_entries_are_checked_as():
    assert set(USES) == set(kit.KINDS)


def test_a_shipped_file_can_be_ones_own(beside):
    """The keys are the same: every shipped file is a right kit file once its tables are named for their kind."""
    files = Path(kit.__file__).parent
    headed = (re.sub(r"(?m)^\[", f"[{kind}.", (files / f"{kind}.toml").read_text("utf-8")) for kind in kit.KINDS)
    write(beside, "\n".join(headed))
    for kind in kit.KINDS:
        own, shipped = kit_for(beside).entries(kind), kit.entries(kind)
        assert list(own) == list(shipped)
        assert all(dict(own[name].values) == dict(shipped[name].values) for name in own)


def test_kit_lists_ones_own_and_where_they_come_from(settings, beside):
    write(beside, SOAP)
    write(settings, '[cloths."my felt"]\nlike = "felt"\n')
    (beside / "set.toml").write_text(the_set(), "utf-8")
    for place in (beside, beside / "set.toml"):
        listed = CliRunner().invoke(main, ["kit", "--json", "--beside", str(place)])
        files = {entry["name"]: entry["file"] for entry in json.loads(listed.stdout)["entries"]}
        assert files["my soap"] == str(beside / "kit.toml")
        assert files["my felt"] == str(settings / "kit.toml")
        assert files["marble"] is None
    table = CliRunner(env={"COLUMNS": "250"}).invoke(main, ["kit", "cloths"]).stdout
    assert re.search(rf"my felt +own +{re.escape(str(settings / 'kit.toml'))}", table)
    assert "your own, from" not in CliRunner().invoke(main, ["kit", "bodies"]).stdout
    one = CliRunner().invoke(main, ["kit", "my", "felt"]).stdout
    assert f"your own, from: {settings / 'kit.toml'}" in one


def test_kit_counts_the_working_folder_and_says_its_mistakes(beside, monkeypatch):
    write(beside, SOAP)
    monkeypatch.chdir(beside)
    assert "your own, from: kit.toml" in CliRunner().invoke(main, ["kit", "my soap"]).stdout
    write(beside, "[materials.x]\nn = 9\n")
    told = CliRunner().invoke(main, ["kit"])
    assert (told.exit_code, told.stdout) == (2, "")
    assert told.stderr.startswith("kit.toml, line 1: materials.")
