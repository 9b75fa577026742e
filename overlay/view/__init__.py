"""What one capture offers: tops, regions, shares, emission and surroundings of its parts."""
