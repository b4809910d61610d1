"""The same sets in another renderer: Mitsuba 3 (`scalar_rgb`, `volpath`), lengths in millimetres."""

from __future__ import annotations

import math

import numpy as np

SEEDS = 16
"""Independent renderings of each reading; the standard error comes from their spread."""


def peer():
    """Return Mitsuba with its scalar variant, or skip the test where it is not installed."""
    import pytest

    mi = pytest.importorskip("mitsuba")
    mi.set_variant("scalar_rgb")
    return mi


def _grey(value):
    return {"type": "rgb", "value": [value] * 3}


def _matte(reflectance):
    return {"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": _grey(reflectance)}}


def _looking(mi, at, aim, scale):
    transform = mi.ScalarTransform4f
    return transform().look_at(origin=at, target=aim, up=[0, 1, 0]) @ transform().scale(scale)


def body(mi, shape, scale, scatter, absorb, g, n, alpha):
    """Return a translucent body round the origin: a `cube` or a `sphere`; coefficients in 1/mm; alpha 0 is polished."""
    boundary = {"type": "dielectric"}
    if alpha > 0.0:
        boundary = {"type": "roughdielectric", "distribution": "ggx", "alpha": alpha}
    return {
        "type": shape,
        "to_world": mi.ScalarTransform4f().scale(scale),
        "bsdf": {**boundary, "int_ior": n, "ext_ior": 1.0},
        "interior": {
            "type": "homogeneous",
            "sigma_t": _grey(1.0),
            "scale": scatter + absorb,
            "albedo": _grey(scatter / (scatter + absorb)),
            "phase": {"type": "hg", "g": g},
        },
    }


def lamp(mi, shape, at, aim, scale):
    """Return a `disk` or a `rectangle` of radiance 1 that faces `aim`, black as a surface."""
    return {
        "type": shape,
        "to_world": _looking(mi, at, aim, scale),
        "bsdf": {"type": "diffuse", "reflectance": _grey(0.0)},
        "emitter": {"type": "area", "radiance": _grey(1.0)},
    }


def scene(mi, distance, half_width, columns, rows, **things):
    """Return a scene description: a pinhole on the z axis that looks at the origin, and the things in the set."""
    return {
        "type": "scene",
        "integrator": {"type": "volpath", "max_depth": 5000, "rr_depth": 50},
        "sensor": {
            "type": "perspective",
            "fov": math.degrees(2.0 * math.atan(half_width / distance)),
            "fov_axis": "x",
            "to_world": mi.ScalarTransform4f().look_at(origin=[0, 0, distance], target=[0, 0, 0], up=[0, 1, 0]),
            "sampler": {"type": "independent"},
            "film": {"type": "hdrfilm", "width": columns, "height": rows, "rfilter": {"type": "box"}},
        },
        **things,
    }


def backlit_slab(mi):
    """Return the set of `tests/sets/backlit_slab.toml`."""
    things = {
        "slab": body(mi, "cube", [40, 40, 2.5], 1.0, 0.02, 0.8, 1.4, 0.3),
        "backdrop": {"type": "rectangle", "to_world": _looking(mi, [0, 0, -300], [0, 0, 0], 300), "bsdf": _matte(0.03)},
    }
    for side, name in ((-1, "left"), (1, "right")):
        lamp_at = [side * 600 * math.sin(math.radians(65)), 0, -600 * math.cos(math.radians(65))]
        flag_at = [side * 380 * math.sin(math.radians(48)), 0, 380 * math.cos(math.radians(48))]
        aim = [flag_at[0] - lamp_at[0], 0, flag_at[2] + 800 - lamp_at[2]]
        things[f"{name}_lamp"] = lamp(mi, "disk", lamp_at, [0, 0, 0], 60)
        things[f"{name}_flag"] = {
            "type": "rectangle",
            "to_world": _looking(mi, flag_at, aim, [150, 200, 1]),
            "bsdf": _matte(0.02),
        }
    return scene(mi, 800, 100, 512, 384, **things)


def mean_radiance(mi, description, rows, columns, samples):
    """Return the mean radiance of a region of pixels and its standard error, from `samples` a pixel for each seed."""
    film = description["sensor"]["film"]
    crop = {
        "crop_offset_x": columns[0], "crop_offset_y": rows[0],
        "crop_width": columns[1] - columns[0], "crop_height": rows[1] - rows[0],
    }  # fmt: skip
    sensor = {**description["sensor"], "film": {**film, **crop}}
    loaded = mi.load_dict({**description, "sensor": sensor})
    means = [float(np.mean(np.array(mi.render(loaded, spp=samples, seed=seed))[..., :3])) for seed in range(SEEDS)]
    return float(np.mean(means)), float(np.std(means, ddof=1) / math.sqrt(SEEDS))
