"""What makes the heat: which parts are sources, who heats the others, and each source's share."""
