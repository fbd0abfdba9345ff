"""Sparebench: a shop's own numbers, used to stock, to quote and to learn what a job earned."""
