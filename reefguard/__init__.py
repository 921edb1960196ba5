"""reefguard keeps a marine reef tank from overheating, and from being cooled to death."""
