"""The link: carries the guard's events out of the house; reads the guard's files, and can switch nothing."""
