"""What you hand over."""
