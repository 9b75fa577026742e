"""What several readers of a board share, and the interchange files that tell places, edge and bodies in one."""
