"""Jobs and the signs of life of the platform."""
