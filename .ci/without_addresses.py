"""A list of parts (CycloneDX) from standard input, without web addresses.

Addresses change while the parts stay what they are.
"""

from __future__ import annotations

import json
import sys
from typing import Any


def without(value: Any) -> Any:
    """The same without what packages say of themselves and where, at every depth."""
    if isinstance(value, dict):
        kept = (key for key in value if key not in ("externalReferences", "description", "tools"))
        return {key: without(value[key]) for key in kept}
    return [without(each) for each in value] if isinstance(value, list) else value


json.dump(without(json.load(sys.stdin)), sys.stdout, indent=1)
print()
