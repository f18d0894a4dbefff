"""The court-side page: what the coach holds while the lesson runs."""

__all__ = ["access", "extra", "listening", "review_page", "serve", "walls"]
