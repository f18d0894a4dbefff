"""This project's wire: lines, sessions, the launcher that speaks it."""
