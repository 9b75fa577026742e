"""The command line of board-overlay: parses, calls, prints."""
