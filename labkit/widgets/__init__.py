"""What you touch in the notebook."""
