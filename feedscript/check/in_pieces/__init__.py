"""Work in pieces, each with all that it depends on: it does not matter who does which, or when."""

__all__ = ["at_worker", "cluster", "cluster_pages", "cores", "craft", "work"]
