"""The folder of an editor extension; its colouring is generated from the grammar."""
