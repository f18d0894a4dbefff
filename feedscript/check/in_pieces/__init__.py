"""Work in pieces, each with all that it depends on: it does not matter who does which, or when."""

__all__ = ["cluster", "cluster_pages", "work"]
