"""Expectations: what a program says of itself, held against its plan."""
