"""Proves the fence and its callers for every input and interleaving: see drivers/firmware/proof."""
