"""What base and rovers see of the satellites over the working day, and when the base keeps silent."""
