"""What all tests share: kernels that can be called one by one, and no kit file of whoever runs them."""

import os
from pathlib import Path

os.environ.setdefault("THROUGHLIGHT_CALLABLE_KERNELS", "1")
os.environ["XDG_CONFIG_HOME"] = str(Path(__file__).parent / "no such folder")
