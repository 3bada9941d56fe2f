"""The year ahead: trend, forecast with a replay, and early warning."""
