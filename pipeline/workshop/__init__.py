"""workshop: see DEVELOPERS.md."""
