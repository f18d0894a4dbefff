"""Commands that judge and rehearse a program before it runs."""
