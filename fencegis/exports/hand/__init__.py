"""What goes into the hand on site: waypoint files within a unit's limits, the table of names, the rover's checks."""
