"""The language server: the checker as an editor sees it."""

__all__ = [
    "area_moves",
    "document",
    "figures",
    "fixes",
    "lengths",
    "moves",
    "order",
    "server",
    "wanted",
]
