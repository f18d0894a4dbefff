"""The journal: all SQL of the project, and what is kept of the players."""

__all__ = [
    "bundle",
    "clips",
    "films",
    "lease",
    "queries",
    "redaction",
    "retention",
    "store",
    "stored",
]
