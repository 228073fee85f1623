"""Files a crew can use: rasters, vectors, maps, figures. Draws what results hold, computes nothing."""
