"""Formulas: arrays in, arrays out; numpy and scipy only."""
