"""What a class's readings say about its measuring."""
