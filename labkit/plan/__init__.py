"""What to do next: corrections, designs, next trials, trade-offs."""
