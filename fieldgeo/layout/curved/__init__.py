"""Curved passes: parallel to a key line or round a centre, held to the least radius of the tool."""
