"""What all tests share: kernels that can be called one by one."""

import os

os.environ.setdefault("THROUGHLIGHT_CALLABLE_KERNELS", "1")
