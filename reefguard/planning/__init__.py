"""The plan: will fans do, or does the tank need a chiller, how large, and where does its heat go?  Pure."""
