"""Placement files: many dialects, one meaning."""
