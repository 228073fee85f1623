"""How radio waves get from the base to a rover: pure functions on numbers and arrays.

One path: `p1812` is the whole Recommendation; its mechanisms are `line_of_sight`, `bullington` (with
`knife_edge`, `spherical_earth`, `smooth_earth`), `troposcatter` and `ducting`, on a `profile` with its
`horizons` and `radio_climate`. A map: `sweep`. Beside them: `free_space`, `fresnel`, `plane_earth` for
the eye, `variability` and `noise` for the budget.
"""
