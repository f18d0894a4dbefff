"""A lesson on paper: one page for the fence, or a card for each exercise."""

__all__ = ["files"]
