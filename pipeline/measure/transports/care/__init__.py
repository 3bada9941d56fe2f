"""Does care matter here: cleaning, line-up, warm-up and the age of the head, read from the logs and judged."""
