from __future__ import annotations
import math
import numpy as np
from throughlight.optics.kernel import kernel

_G = np.uint64(0x9E3779B97F4A7C15)
_A = np.uint64(0xBF58476D1CE4E5B9)
_B = np.uint64(0x94D049BB133111EB)

@kernel
def mix(z):
    z = (z ^ (z >> np.uint64(30))) * _A
    z = (z ^ (z >> np.uint64(27))) * _B
    return z ^ (z >> np.uint64(31))

@kernel
def start(seed, replicate, stream, index):
    z = mix(np.uint64(seed) + _G)
    z = mix(z ^ (np.uint64(replicate) + _G))
    z = mix(z ^ (np.uint64(stream) * _G + np.uint64(1)))
    return mix(z ^ (np.uint64(index) * _A + np.uint64(7)))

@kernel
def draw(state):
    state = state + _G
    return np.float64(mix(state) >> np.uint64(11)) * (1.0 / 9007199254740992.0), state

@kernel
def sobol_owen(index, dimension, key):
    z = mix(mix(key + np.uint64(dimension) * _G) ^ (np.uint64(index) * _A))
    return np.float64(z >> np.uint64(11)) * (1.0 / 9007199254740992.0)
