"""How fast airhours is, beside the engine alone and the same job written by hand, in one run on the same files.

Seconds say more of a machine than of a program, so that what is judged are ratios, each taken within one round: every
round runs every contender once, in a process of its own, and a ratio is the median of its rounds with the least and the
greatest. Run it with `python -m bench.speed`; history.jsonl keeps what was found.
"""
