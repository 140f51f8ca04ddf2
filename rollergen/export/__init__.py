"""What leaves: one file per format."""
