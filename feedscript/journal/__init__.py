"""The journal: all SQL of the project, and what is kept of the players."""

__all__ = [
    "bundle",
    "clips",
    "films",
    "lease",
    "outgoing",
    "queries",
    "redaction",
    "retention",
    "schema",
    "store",
    "stored",
]
