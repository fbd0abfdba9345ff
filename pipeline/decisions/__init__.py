"""What to order, what to replace, what to charge, what it earned."""
