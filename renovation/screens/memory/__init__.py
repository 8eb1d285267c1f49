"""What a visitor has in hand, and answers that are kept."""
