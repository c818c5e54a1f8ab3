"""Searches: patterns of a kind, the graph of states, bridges, ranking, drills and lead-ups."""
