"""What the pipeline costs beside what nothing can undercut, and whether its answers are still the same."""
