"""The seeded generator of the invented demo shop: writes CSV only."""
