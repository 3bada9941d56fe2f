"""How long a year is, wherever a record is turned into one."""

HOURS_A_YEAR = 365.25 * 24
