"""Charts, tables, notebook runs and pages."""
