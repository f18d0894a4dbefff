"""All SQL of the club: SQLite for one server process, PostgreSQL for several."""

__all__ = ["hosts", "store"]
