"""Charts: a tidy frame in, an Altair chart out; rows arrive sorted and axes carry their units."""
