"""Was the prediction true? Field logs against the map, and what the map may learn from them."""
