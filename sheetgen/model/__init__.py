"""Frozen records that travel between the floors. Behaviour stands in functions elsewhere."""
