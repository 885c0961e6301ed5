"""The class folder on disk, and the templates that travel with the program."""
