"""What you teach with."""
