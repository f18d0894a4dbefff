"""A ball in the air: air, forces, motion, bounce and aiming."""

__all__ = [
    "air",
    "ball",
    "bounce",
    "conditions",
    "contact",
    "launches",
    "models",
    "published_range",
    "written",
]
