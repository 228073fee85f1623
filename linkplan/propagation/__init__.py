"""How radio waves get from the base to a rover: pure functions on numbers and arrays."""
