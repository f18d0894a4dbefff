"""The camera's place from the court's own lines, which are the ruler of all distances."""

__all__ = ["anew", "find", "overlay", "paint", "points", "shown", "stands"]
