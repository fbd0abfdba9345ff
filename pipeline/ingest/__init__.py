"""Shop folder in: read, repair, validate, load; all or nothing."""
