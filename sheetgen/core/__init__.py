"""Numbers in, numbers out: the arithmetic of skinfold measurement. Standard library only."""
