"""Each example reads without a doubt, traces without a lost path, and shows what its first lines say it shows.

Where a comparison has a closed form it is stated beside it; elsewhere only which of two is brighter is claimed, by a
margin and four standard errors.
"""

from __future__ import annotations

import importlib.util
import json
import math
import tomllib
from functools import cache

import glances
import jsonschema
import numpy as np
import pytest
import trimesh
from click.testing import CliRunner
from glances import FILES, FOLDER, glance, in_frame, read
from PIL import Image

from throughlight.cli import main
from throughlight.readings.camera import camera_reading
from throughlight.readings.stack import focus_stack
from throughlight.setup import schema
from throughlight.setup.islands import area_of
from throughlight.stage.build import build

NAMES = [
    "bare-tube", "barn-doors", "bounce-cards", "bowl-profile", "clear-wrap", "coloured-glass", "continuous-lamp",
    "focus-stack", "gels", "glazed-porcelain", "gloss", "grid", "hood-vignetting", "lamp-file", "mapped-slice",
    "mesh-placed", "metals", "outline-from-picture", "outline-from-svg", "own-kit", "printed-card", "revolve-bottle",
    "room-and-window", "rough-glass", "rounded-edge", "scrim-before-head", "several-subjects", "skin-over-flesh",
    "snoot", "softbox-and-strip", "tilt-and-shift", "tracing-paper", "velvet-glow", "vessel-filled",
]  # fmt: skip


def test_the_examples():
    assert sorted(FILES) == NAMES


@cache
def validator():
    return jsonschema.Draft202012Validator(schema())  # whether the schema itself is one: tests/setup


@pytest.mark.parametrize("name", NAMES)
def test_reads_without_a_doubt(name):
    text = FILES[name].read_text("utf-8")
    first, second, third = text.splitlines()[:3]
    assert first.startswith("# ")
    assert second.startswith("# Look ")
    assert third.startswith("title = ")
    assert 30 <= len(text.splitlines()) <= 60
    validator().validate(tomllib.loads(text))
    checked = CliRunner().invoke(main, ["check", "--quiet", str(FILES[name])])
    assert (checked.exit_code, checked.output) == (0, "")


@pytest.mark.parametrize("name", NAMES)
def test_traces_without_a_lost_path(name):
    readings = glance(read(name)).readings
    made = readings.making
    assert (made.cut, made.leaked, made.invalid) == (0, 0, 0)
    figures = [readings.stray.veil, *readings.spots.values()]
    figures += [part.mean for part in (readings.subject, readings.backdrop) if part is not None]
    assert all(math.isfinite(figure.value) for figure in figures)
    json.dumps(readings.as_json(), allow_nan=False)


@cache
def script():
    spec = importlib.util.spec_from_file_location("make_assets", FOLDER.parent / "make_assets.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_assets_are_what_the_script_makes():
    kept = FOLDER / "assets"
    for name, make in script().PICTURES.items():
        np.testing.assert_allclose(np.asarray(Image.open(kept / name), int), make(), atol=1)
    for name, make in script().TEXTS.items():
        assert (kept / name).read_text("utf-8") == make()
    files = list(kept.iterdir())
    assert {file.name for file in files} == {*script().PICTURES, *script().TEXTS}
    assert all(file.stat().st_size < 60_000 for file in files)


def test_outline_from_picture():
    """The picture's leaf: 9 cm wide, two holes, which show the cloth."""
    setup = read("outline-from-picture")
    (leaf,) = setup.subject.shape.outline.islands
    assert len(leaf.holes) == 2
    assert np.ptp(np.array(leaf.outer)[:, 0]) == pytest.approx(0.09)
    seen = glance(setup)
    glances.over(glances.subject(seen), glances.spot(seen, "left hole"), 5.0)


def test_outline_from_svg():
    """Area of r = 42 + 6 cos 8θ less nine holes: π(42² + 6²/2 − 9² − 8·6²), of 96 units that are 8 cm."""
    setup = read("outline-from-svg")
    expected = math.pi * (42**2 + 6**2 / 2 - 9**2 - 8 * 6**2) * (0.08 / 96.0) ** 2
    assert area_of(setup.subject.shape.outline.islands).area == pytest.approx(expected, rel=0.01)
    seen = glance(setup)
    glances.over(glances.subject(seen), glances.spot(seen, "hole in the middle"), 5.0)


def test_rounded_edge():
    """The face in the middle is the same wax; at the right rim the rounded face looks away from the strip."""
    setup = read("rounded-edge")
    seen = glance(setup, 2, sharp=in_frame(setup, (-0.0125, 0.0, 0.01)), rounded=in_frame(setup, (0.0675, 0.0, 0.006)))
    glances.over(glances.spot(seen, "sharp"), glances.spot(seen, "rounded"), 0.2)


def test_revolve_bottle():
    """Through a longer lens, for spots of a millimetre: the contour is darker than the middle."""
    setup = read("revolve-bottle", ('focal = "85 mm"', 'focal = "300 mm"'))
    seen = glance(setup, rim=in_frame(setup, (-0.03, 0.0, 0.0)), middle=in_frame(setup, (0.0, 0.0, 0.0)))
    glances.over(glances.spot(seen, "middle"), glances.spot(seen, "rim"), 2.0)


def test_vessel_filled():
    """Through the axis: two clean faces of glass, two of glass and juice, and 58.5 mm of juice (Fresnel, Beer-Lambert).

    The paper behind is even, and so it does not matter what the tumbler makes of it as a lens.
    """
    with_it, without = read("vessel-filled"), read("vessel-filled", ('at = ["0 cm", "-6 cm"', 'at = ["50 cm", "-6 cm"'))
    one, other = glance(with_it, 4), glance(without, 4)
    juice, glass = with_it.subject.fill.material, with_it.subject.material
    air = 4.0 * glass.n / (glass.n + 1.0) ** 2
    wet = 4.0 * glass.n * juice.n / (glass.n + juice.n) ** 2
    for band in range(3):
        passed = math.exp(-0.0585 * juice.absorption[band] - 0.005 * glass.absorption[band]) * (air * wet) ** 2
        found = [glances.bands(seen, "juice")[:, band] for seen in (one, other)]
        glances.equals(*found, math.log2(passed), 0.12)


def test_several_subjects():
    """A prop that is not counted moves the mean by the light it throws alone; counted, a black one lowers it."""
    white = ("surface = { reflectance = 0.85 }", "surface = { reflectance = 0.03 }")
    pale, black, counted = (
        glances.subject(glance(read("several-subjects", *change)))
        for change in ((), (white,), (white, ("counts = false", "counts = true")))
    )
    assert abs(glances.stops(pale, black)[0]) < 0.3
    glances.over(black, counted, 0.5)


def test_mesh_placed():
    """Seven tenths of the file, in mm: the longest distance between two of its corners."""
    placed = camera_reading(read("mesh-placed")).subject.outline
    file = trimesh.load(FOLDER.parent / "agate" / "slice.ply", process=False)

    def span(points):
        hull = trimesh.convex.convex_hull(points).vertices
        return max(np.linalg.norm(hull - one, axis=1).max() for one in hull)

    assert span(placed) == pytest.approx(0.7e-3 * span(file.vertices), rel=1e-3)


def test_mapped_slice():
    """The picture's palest and darkest stretch along its middle row, each 3 mm wide, keep their order."""
    setup = read("mapped-slice")
    row = script().banded_slice()[74:86, :, 1].astype(float).mean(axis=0)
    wide = np.convolve(row, np.ones(7) / 7, "same")
    x = ((np.arange(160) + 0.5) / 160 - 0.5) * 0.066
    inner = np.flatnonzero(np.abs(x) < 0.024)
    pale, dark = (x[inner[choose(wide[inner])]] for choose in (np.argmax, np.argmin))
    seen = glance(setup, 4, pale=in_frame(setup, (pale, 0.0, 0.002)), dark=in_frame(setup, (dark, 0.0, 0.002)))
    glances.over(glances.spot(seen, "pale"), glances.spot(seen, "dark"), 0.5)


def redness(one: glances.Glance, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return red and blue at a spot."""
    return glances.bands(one, name)[:, 0], glances.bands(one, name)[:, 2]


def test_skin_over_flesh():
    middle = (0.5, 0.5)
    text = FILES["skin-over-flesh"].read_text("utf-8")
    coat = text[text.index("[subject.coat]") : text.index("[backdrop]")]
    skin, bare = (glance(read("skin-over-flesh", *change), 4, middle=middle) for change in ((), ((coat, ""),)))
    glances.over(*redness(skin, "middle"), 1.5)
    assert glances.stops(*redness(bare, "middle"))[0] < 0.8


def test_glazed_porcelain():
    """The coat is a body of its own; the porcelain within it is another."""
    coated, bare = (build(read("glazed-porcelain", *change))[0] for change in ((), (("coat = {", "# coat = {"),)))
    assert len(coated.media) == len(bare.media) + 1
    assert len(coated.shapes) == len(bare.shapes) + 1
    assert coated.media["n"].max() == pytest.approx(read("glazed-porcelain").subject.coat.material.n)


def test_coloured_glass():
    """Beer-Lambert: 6.04 mm more of cobalt glass between ±30.2 mm of a wedge of 8 mm in 80 mm, blue by 0.170 1/mm.

    Slack: the wedge bends the view by (n − 1)·5.7° = 3°, to paper of slightly another brightness at either side.
    """
    setup = read("coloured-glass")
    seen = glance(setup, 8, left=in_frame(setup, (-0.0302, 0.0, 0.0)), right=in_frame(setup, (0.0302, 0.0, 0.0)))
    thin, thick = (glances.bands(seen, name)[:, 2] for name in ("left", "right"))
    glances.equals(thin, thick, 0.170 * 6.04 / math.log(2.0), 0.1)


def mirrored_at(setup, middle, radius, head):
    """Return where on a ball the camera sees the mirror image of a head: between both directions (far from it)."""
    middle = np.array(middle)
    ways = [(np.array(place) - middle) / np.linalg.norm(np.array(place) - middle) for place in (setup.camera.at, head)]
    return tuple(middle + radius * sum(ways) / np.linalg.norm(sum(ways)))


def test_gloss():
    setup = read("gloss")
    places = {
        name: in_frame(setup, mirrored_at(setup, (x, 0.0, 0.0), 0.025, setup.heads[0].at))
        for name, x in (("matte", -0.035), ("glossy", 0.035))
    }
    seen = glance(setup, **places)
    glances.over(glances.spot(seen, "glossy"), glances.spot(seen, "matte"), 0.7)


def test_metals():
    """The left card in gold and in copper is redder than in silver; handbooks give gold .97 of red and .39 of blue."""
    setup = read("metals")
    card = setup.cards[0].at
    places = {
        metal: in_frame(setup, mirrored_at(setup, (x, 0.0, 0.0), 0.017, card))
        for metal, x in (("silver", -0.06), ("gold", -0.02), ("copper", 0.02))
    }
    seen = glance(setup, 4, **places)
    red = {metal: np.divide(*redness(seen, metal)) for metal in places}
    glances.over(red["gold"], red["silver"], 0.4)
    glances.over(red["copper"], red["silver"], 0.4)


def test_velvet_glow():
    """The pile adds its part of the strip's light where that grazes, hardly from the front (over matte black)."""
    matte = ('cloth = "black velvet"', "cloth = { reflectance = 0.004 }")
    front = ('at = ["-80 cm", "0 cm", "-38 cm"]', 'at = ["-80 cm", "0 cm", "90 cm"]')
    glow = []
    for turned in ((), (front,)):
        velvet, black = (glance(read("velvet-glow", *turned, *cloth), 2) for cloth in ((), (matte,)))
        glow.append(glances.stops(*(glances.backdrop(one, "grazing strip") for one in (velvet, black))))
    print(
        f"{glow[0][0]:.2f} ± {glow[0][1]:.2f} stops over matte black in grazing light, {glow[1][0]:.2f} from the front"
    )
    assert glow[0][0] - 4.0 * math.hypot(glow[0][1], glow[1][1]) > glow[1][0] + 0.3


def test_printed_card():
    """A red triangle of the print is red; a dark one of its border reads little of the light."""
    setup = read("printed-card")
    tiles = script().print_of_tiles()
    red = np.argwhere((tiles[40:120, 60:180] == (196, 62, 40)).all(axis=-1))
    row, column = red[np.argmin(np.abs(red - (40, 60)).sum(axis=1))] + (40, 60)
    x, y = -0.05 + 0.09 * ((column + 0.5) / 240 - 0.5), 0.06 * (0.5 - (row + 0.5) / 160)
    seen = glance(setup, red=in_frame(setup, (x, y, 0.0)), border=in_frame(setup, (-0.0935, 0.0, 0.0)))
    glances.over(*redness(seen, "red"), 1.0)
    glances.over(glances.spot(seen, "plain card's middle"), glances.spot(seen, "border"), 2.0)


def test_clear_wrap():
    """Seen straight through the wrap at 26.6°, .91 of the light along the normal by Stokes's plate of n = 1.5."""
    text = FILES["clear-wrap"].read_text("utf-8")
    sheet = text[text.index("[[sheet]]") : text.index("[backdrop]")]
    wrapped, bare = (glance(read("clear-wrap", *change), 2, middle=(0.52, 0.5)) for change in ((), ((sheet, ""),)))

    def plate(angle):
        inside = math.asin(math.sin(angle) / 1.5)
        s = (math.sin(angle - inside) / math.sin(angle + inside)) ** 2
        p = (math.tan(angle - inside) / math.tan(angle + inside)) ** 2
        return 0.5 * sum((1.0 - r) / (1.0 + r) for r in (s, p))

    share = 0.91 * plate(math.atan(0.5)) / (2.0 * 1.5 / (1.5**2 + 1.0))
    glances.equals(glances.spot(wrapped, "middle"), glances.spot(bare, "middle"), math.log2(share), 0.02)


def test_tracing_paper():
    seen = glance(read("tracing-paper"), 2)
    glances.over(glances.spot(seen, "paper beside the ball"), glances.spot(seen, "paper's corner"), 0.3)


def test_rough_glass():
    """The polished ball shows the low bar above its middle, upside down; the etched one hardly any of it."""
    setup = read("rough-glass")
    places = {
        f"{name} {part}": in_frame(setup, (x, y, 0.015))
        for name, x in (("polished", -0.035), ("etched", 0.035))
        for part, y in (("above", 0.01), ("below", -0.01))
    }
    seen = glance(setup, 2, **places)
    glances.over(glances.spot(seen, "polished below"), glances.spot(seen, "polished above"), 3.0)
    assert glances.stops(glances.spot(seen, "etched below"), glances.spot(seen, "etched above"))[0] < 0.8


def test_bowl_profile():
    """E = I(θ)·cos β/d² of a small source, in the middle of its pool and half way out; slack for the ball's light."""
    setup = read("bowl-profile")
    seen = glance(setup)
    camera, head = setup.camera, setup.heads[0]
    per_width = camera.sensor_width * (1.0 / camera.focal - 1.0 / camera.focus) * 1.3

    def illuminance(x):
        way = np.array([x, 0.0, -0.4]) - head.at
        axis = np.subtract(head.aim, head.at)
        d = np.linalg.norm(way)
        angle = math.acos(float(way @ axis) / (d * np.linalg.norm(axis)))
        return np.interp(angle, head.profile.angles, head.profile.intensities) * -way[2] / d**3

    expected = math.log2(illuminance(0.0) / illuminance(0.22 * per_width))
    glances.equals(glances.spot(seen, "middle of the pool"), glances.spot(seen, "half way out"), expected, 0.05)


def test_softbox_and_strip():
    """On the round side the mirror image of each front lies where the normal halves both directions, in plan."""
    setup = read("softbox-and-strip")
    places = {"middle": in_frame(setup, (0.0, -0.04, 0.034))}
    for name, bearing in (("softbox", -80.0), ("strip", 100.0)):
        turn = math.radians(bearing / 2.0)
        places[name] = in_frame(setup, (0.034 * math.sin(turn), -0.04, 0.034 * math.cos(turn)))
    seen = glance(setup, 2, **places)
    glances.over(glances.spot(seen, "softbox"), glances.spot(seen, "middle"), 2.0)
    glances.over(glances.spot(seen, "strip"), glances.spot(seen, "middle"), 2.0)


def test_scrim_before_head():
    """It passes .45, 1.15 stops, and spreads most of that over more than the set."""
    text = FILES["scrim-before-head"].read_text("utf-8")
    sheet = text[text.index("[[sheet]]") : text.index("[[head]]")]
    with_it, without = (glance(read("scrim-before-head", *change), 2) for change in ((), ((sheet, ""),)))
    glances.over(glances.subject(without), glances.subject(with_it), 1.15)


def test_grid():
    """Beyond half the cut-off's full angle no light of the gridded head comes but what ball and paper throw."""
    seen = glance(read("grid"))
    pool, outside = (glances.of_head(seen, name, "gridded bowl") for name in ("gridded pool", "outside the grid"))
    glances.over(pool, outside + 1e-9 * pool.mean(), 4.0)


def test_snoot():
    """Without the tube the bowl behind the slice shines on the lens, too."""
    stray = [glance(read("snoot", *change)).readings.stray.outside for change in ((), (("snoot = {", "# snoot = {"),))]
    assert stray[1] > 30.0 * stray[0]


def test_barn_doors():
    closed, opened = glance(read("barn-doors")), glance(read("barn-doors", ('right = "-15 deg"', 'right = "60 deg"')))
    glances.over(glances.backdrop(opened), glances.backdrop(closed), 2.0)


def test_bare_tube():
    """The cards throw light on the front that would go elsewhere."""
    text = FILES["bare-tube"].read_text("utf-8")
    cards = text[text.index("[[card]]") :]
    place = (0.75, 0.5)
    boxed, bare = (glance(read("bare-tube", *change), 4, front=place) for change in ((), ((cards, ""),)))
    glances.over(glances.spot(boxed, "front"), glances.spot(bare, "front"), 0.5)


def test_lamp_file():
    """The file's fan is three times as broad as high."""
    turned = ('output = "file"', 'output = "file"\nroll = "90 deg"')
    lying, standing = glance(read("lamp-file")), glance(read("lamp-file", turned))
    glances.over(glances.spot(lying, "at the side"), glances.spot(lying, "above"), 3.0)
    glances.over(glances.spot(standing, "above"), glances.spot(standing, "at the side"), 1.0)


def test_gels():
    seen = glance(read("gels"))
    glances.over(*redness(seen, "left rim"), 1.0)
    glances.over(*reversed(redness(seen, "right rim")), 0.5)


def test_bounce_cards():
    setup = read("bounce-cards")
    places = {name: in_frame(setup, (x, -0.011, 0.012)) for name, x in (("white", -0.09), ("gold", 0.03))}
    seen = glance(setup, 4, **places)
    glances.over(*(np.divide(*redness(seen, name)) for name in ("gold", "white")), 0.3)


def brighter_by(one, other, expected):
    """Assert that two readings are so many stops apart, by four standard errors (t of 7 degrees: 2.365)."""
    error = math.hypot(one.half, other.half) / 2.365
    print(f"{one.value - other.value:.3f} ± {error:.3f} stops, expected {expected:.3f}")
    assert error < 0.06
    assert abs(one.value - other.value - expected) <= 4.0 * error


def test_continuous_lamp():
    """Twice the shutter time is one stop more of the lamp and nothing of the flash."""
    short, long = (glance(read("continuous-lamp", *change), 8).readings for change in ((), (('"1/4 s"', '"1/2 s"'),)))
    assert short.ambient.subject.value > short.subject.mean.value - 0.3
    brighter_by(long.ambient.subject, short.ambient.subject, 1.0)
    brighter_by(*(one.subject.by_head["filling flash"] for one in (long, short)), 0.0)


def test_room_and_window():
    """Without a flash there are room and window; 20 times the shutter time is log2 20 stops more of both."""
    text = FILES["room-and-window"].read_text("utf-8")
    window = text[text.index("[[window]]") : text.index("[ambient]")]
    both, long, room = (
        glance(read("room-and-window", *change), 4).readings
        for change in ((), (('"1/160 s"', '"1/8 s"'),), ((window, ""),))
    )
    assert both.ambient.subject.value > room.ambient.subject.value + 0.5
    brighter_by(long.ambient.subject, both.ambient.subject, math.log2(20.0))
    assert both.ambient.subject.value < both.subject.mean.value - 3.0


def test_tilt_and_shift():
    """The hinge rule: the plane of focus meets the lens's plane f/sin(tilt) from the lens, along the sensor's plane."""
    setup = read("tilt-and-shift")
    camera = setup.camera
    down = math.atan2(camera.at[1], camera.at[2] - camera.aim[2])
    assert math.sin(camera.tilt) == pytest.approx(camera.focal * math.cos(down) / camera.at[1], rel=0.01)
    assert camera_reading(setup).sharp_throughout
    assert not camera_reading(read("tilt-and-shift", ('tilt = "11.2 deg"', "#"))).sharp_throughout


def test_hood_vignetting():
    """At f/5.6 the corner is darker by the law of cos⁴ only: 4·log2 of the cosine of 22.2°, and wide open by more."""
    wide, narrow = (glance(read("hood-vignetting", *change)) for change in ((), (("= 1.8", "= 5.6"),)))
    fall = [glances.stops(glances.spot(one, "middle"), glances.spot(one, "corner"))[0] for one in (wide, narrow)]
    assert fall[0] > fall[1] + 0.2


def test_focus_stack():
    setup = read("focus-stack")
    assert not camera_reading(setup).sharp_throughout
    assert "--focus-stack 24" in FILES["focus-stack"].read_text("utf-8")
    assert focus_stack(setup, 24).covers
    assert not focus_stack(setup, 12).covers


def test_own_kit():
    """What the set names comes from the file beside it, with what that file takes over from the shipped kit."""
    setup = read("own-kit")
    assert setup.subject.material.absorption == pytest.approx((1.5, 6.0, 60.0))  # 1/m
    assert setup.subject.material.n == 1.44  # of the shipped white wax
    assert setup.backdrop.surface.kind == "cloth"
    assert len(setup.heads[0].profile.angles) == 6
