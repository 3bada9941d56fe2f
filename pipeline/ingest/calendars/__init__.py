"""RFC 5545 calendars: a row an occurrence."""
