"""The court-side page: what the coach holds while the lesson runs."""

__all__ = ["extra", "listening", "review_page", "serve"]
