"""What you look at."""
