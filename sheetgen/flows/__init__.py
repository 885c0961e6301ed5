"""The only floor that joins stages: new, build, read, look, demo."""
