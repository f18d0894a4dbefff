"""Before a lesson: finding, checking, pairing and setting up a launcher."""
