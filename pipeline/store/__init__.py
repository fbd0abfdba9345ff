"""The only layer that knows DuckDB and SQL."""
