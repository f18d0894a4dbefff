"""The court-side page: what the coach holds while the lesson runs."""

__all__ = [
    "acceptor",
    "access",
    "between",
    "chooser",
    "extra",
    "listening",
    "offer",
    "page_in",
    "review_page",
    "serve",
    "walls",
]
