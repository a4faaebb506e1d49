"""graph: see DEVELOPERS.md."""
