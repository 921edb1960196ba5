"""Other devices behind the same ports, and a tank to hold: for the bench and the demonstration."""
