"""What the ground looks like: elevation rasters on a local grid in true metres, and profiles of it."""
