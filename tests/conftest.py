"""What all tests share: kernels that can be called one by one, and no kit file of whoever runs them."""

import os
from pathlib import Path

from doors import callable_kernels

callable_kernels()
os.environ["XDG_CONFIG_HOME"] = str(Path(__file__).parent / "no such folder")
