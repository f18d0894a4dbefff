"""A season's lessons: as a calendar, and which of them were held."""

__all__ = ["calendar", "forms", "held"]
