"""For whom and when: what a program suits, and seasons."""

__all__ = ["heading", "suits", "when"]
