"""What you publish, and how a stranger checks it."""
