"""Running a plan: engine, journal, roster and tally."""
