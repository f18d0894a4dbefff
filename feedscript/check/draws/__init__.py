"""Drawn balls in pieces, each with a seed of its own: it does not matter who draws which."""

__all__ = ["cluster", "cluster_pages", "work"]
