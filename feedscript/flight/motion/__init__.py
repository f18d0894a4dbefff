"""Balls in the air: equations of motion, their integration, events on the way."""
