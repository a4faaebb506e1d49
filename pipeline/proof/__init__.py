"""proof: see DEVELOPERS.md."""
