"""Bluetooth without a radio: a stand-in launcher as a peripheral on a virtual link.

Two ways lead to it: a bleak backend of its own, and a stand-in for the Linux Bluetooth service on
a private D-Bus behind which bleak's real Linux backend runs. Encryption is not real here.
"""
