"""Numbers in, numbers out: rounding, readings, composition. Standard library only."""
