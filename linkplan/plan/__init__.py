"""The job file: what the user wants and has, read whole, with every fault listed at once."""
