"""The language: grammar, syntax tree, names and units. It knows nothing of flight."""
