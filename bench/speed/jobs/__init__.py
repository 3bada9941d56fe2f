"""What is timed, each a program of its own: the engine alone, airhours in parts, and the same job written by hand."""
