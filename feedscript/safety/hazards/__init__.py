"""Where balls may come, and what is in danger there."""

__all__ = ["areas", "ellipse", "envelope", "stations", "strays", "surfaces"]
