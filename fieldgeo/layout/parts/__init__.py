"""Parts: the body of a field divided along straight seams, each part with a direction of its own."""
