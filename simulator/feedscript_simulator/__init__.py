"""The stand-in launcher: the far end of the wire, its plant and its faults."""
