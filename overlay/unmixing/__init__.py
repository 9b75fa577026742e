"""All small parts of a frame and the board around them, in one solution."""
