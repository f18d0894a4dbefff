"""Libraries that count in threads of their own, told to keep to one.

Our matrices are too small to be shared out. A library that makes ready for it all the same costs a
start half as long as reading it in, and rounds a sum as the number of its threads would have it.
"""

from __future__ import annotations

import os

ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")


def keep_to_one_thread() -> None:
    """For this process, before numpy is imported; who chose a number keeps it."""
    for name, number in ONE_THREAD.items():
        os.environ.setdefault(name, number)
