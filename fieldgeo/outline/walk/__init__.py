"""A walked or driven edge: from the log of a receiver to a ring whose area has an uncertainty."""
