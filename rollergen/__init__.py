"""rollergen: hollow ribbed roller segments from one profile file."""
