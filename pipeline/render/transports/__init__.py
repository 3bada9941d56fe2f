"""The pages on the transports: side by side, the case, the year ahead, parts, recordings, care and pairs."""
