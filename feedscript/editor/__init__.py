"""The language server: the checker as an editor sees it."""

__all__ = ["area_moves", "document", "fixes", "lengths", "moves", "order", "server", "wanted"]
