"""One server process of a club: courts join and are listened to, pages are told the news."""

__all__ = ["address", "serve"]
