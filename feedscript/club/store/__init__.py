"""All SQL of the club: SQLite for one server process, PostgreSQL for several."""
