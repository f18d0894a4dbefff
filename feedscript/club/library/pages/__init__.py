"""The pages of the club's library: what there is, one text and what was said of it, two beside each
other. They need no script."""
