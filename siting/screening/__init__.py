"""Two tables of places, each place of one judged against the places of the other, whole countries at once."""
