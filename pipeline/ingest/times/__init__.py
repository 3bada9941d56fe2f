"""Times as rooms write them, read into instants."""
