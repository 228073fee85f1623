"""Who may be hurt by a base, and how far around it: the antenna's field, the mast, lost corrections."""
