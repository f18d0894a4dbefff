"""Conducting a plan: the lesson's state, its phases, its launchers."""
