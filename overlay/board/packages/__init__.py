"""Body sizes from package names."""
