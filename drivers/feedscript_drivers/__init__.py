"""Drivers: the wire codec and the links that carry it to real launchers."""
