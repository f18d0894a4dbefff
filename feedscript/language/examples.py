"""A small whole program about one feed, for the wrong and corrected examples of pages."""

from __future__ import annotations

FEED = "feed deep { land 2 m inside baseline, on centre line  speed 70 km/h  spin top 600 rpm }"
STEPS = "show speed of deep   send deep after 5 s"


def program(*, feed: str = FEED, steps: str = STEPS, more: str = "", head: str = "") -> str:
    """A program with this feed, these steps, more items after them and a head before them."""
    opening = head or (
        'feedscript 1\ntitle "One feed"\ncourt { surface hard  altitude 0 m  air 20 C }\n'
        "balls { type 2  load 60 }\n"
        'launcher { profile "garage.toml"  stands 1 m behind centre mark }\n'
    )
    items = [opening.rstrip(), feed, f"lesson {{ {steps.strip()} }}", more]
    return "\n".join(item for item in items if item) + "\n"
