"""``@override`` marks a method that takes the place of a base's: mypy and ruff hold it to that.

The type checker knows it on every Python; at run time it is typing's own from 3.12 on, and before
that a mark without effect, so that nothing need be imported for it.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing_extensions import override
elif sys.version_info >= (3, 12):
    from typing import override
else:

    def override(method):  # noqa: ANN001, ANN201 - the checker reads the one above
        return method


__all__ = ["override"]
