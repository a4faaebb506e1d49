"""steps: see DEVELOPERS.md."""
