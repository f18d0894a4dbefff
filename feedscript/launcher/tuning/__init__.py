"""A profile's numbers from measured landings."""

__all__ = [
    "design",
    "drift",
    "factors",
    "fit",
    "improvement",
    "lack_of_fit",
    "landings_file",
    "mistakes",
    "pages",
    "shots",
    "spread",
    "write",
]
