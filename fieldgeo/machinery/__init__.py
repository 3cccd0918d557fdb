"""Tools, the shed file, and published figures with their sources."""
