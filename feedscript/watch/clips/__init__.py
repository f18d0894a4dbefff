"""Pictures of single balls, by which a person can say yes or no to what was found."""

__all__ = ["files", "strip", "way"]
