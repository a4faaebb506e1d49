"""intake: see DEVELOPERS.md."""
