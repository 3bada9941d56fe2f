"""The invented room behind sample_logs: what happened in it, what was logged of it, and what is therefore true."""
