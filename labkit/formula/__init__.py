"""What you write down: formulas, the moves that change them, the brief."""
