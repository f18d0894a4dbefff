"""For whom a program is, beside how it runs: what it suits."""

__all__ = ["heading", "suits"]
