"""What an edit changed, piece by piece, and what of all that was cut is still good."""
