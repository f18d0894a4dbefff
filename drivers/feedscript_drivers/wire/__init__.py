"""This project's wire: lines, sessions, the launcher that speaks it."""

__all__ = ["codec", "limits", "messages", "one_error", "protocol", "seal", "trust", "wire_launcher"]
