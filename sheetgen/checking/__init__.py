"""Pure: recompute, compare, find."""
