"""Drawings of what is built: dimensioned, to scale, and made of the same numbers as the ratings."""

__all__: list[str] = []
