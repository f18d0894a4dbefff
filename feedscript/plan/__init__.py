"""From a program to a plan: every feed aimed, every bound known."""
