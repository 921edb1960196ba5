"""The separate over-cool cutoff: its own limits, probe, decoder, relay, latch and reading of the clock.

It can only take cooling away.  Read `trip` first: that is the decision.
Then `watch`: that is the loop.  Nothing here imports anything else of
reefguard, on purpose; a shared decoder or rule would be a shared blind spot.
"""
