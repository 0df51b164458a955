"""What you did: immutable records, the store that keeps them, the family tree."""
