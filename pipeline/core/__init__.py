"""core: see DEVELOPERS.md."""
