"""The case in money: what keeping, overhauling, replacing or easing each machine costs a year, and what turns it."""
