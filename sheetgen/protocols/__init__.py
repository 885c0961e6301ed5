"""What is measured: sites, equations and settings, and what follows from entries."""
