"""The calls of a deed: from its words to a figure that closes, or to the call that looks wrong."""
