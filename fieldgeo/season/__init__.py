"""The season: crops, operations, fit days, schedule."""
