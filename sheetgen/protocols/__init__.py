"""What is measured: sites, equations and settings, how they are loaded and checked, and what follows from entries."""
