"""Pictures of fields and layouts."""
