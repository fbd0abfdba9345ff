"""Store to fitted frames, with n and an interval beside each estimate."""
