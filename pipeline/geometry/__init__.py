"""geometry: see DEVELOPERS.md."""
