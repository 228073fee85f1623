"""The equipment: antennas, feeders, receivers and the budget of a link."""
