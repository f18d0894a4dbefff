"""The language server: the checker as an editor sees it."""

__all__ = ["document", "moves", "server"]
