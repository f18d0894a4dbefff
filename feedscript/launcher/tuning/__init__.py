"""A profile's numbers from measured landings."""

__all__ = [
    "design",
    "drift",
    "factors",
    "fit",
    "landings_file",
    "pages",
    "shots",
    "spread",
    "write",
]
