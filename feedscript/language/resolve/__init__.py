"""Syntax tree to program: names looked up, values worked out."""
