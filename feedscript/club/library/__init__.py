"""The club's library on its server: texts added, approved and withdrawn, each change signed."""

__all__ = ["compare", "routes", "signing"]
