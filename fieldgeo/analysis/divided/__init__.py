"""A field divided into parts: the divisions tried, the plan over all parts, its coverage and figures."""
