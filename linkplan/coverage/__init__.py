"""Terrain, equipment and propagation joined: one link, a whole area, and how far to trust it."""
