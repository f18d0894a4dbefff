"""Who people are to the club, what they may read, and what is forgotten; and the pages for it."""

__all__ = ["beginning", "history", "obey", "oidc"]
