"""packet: see DEVELOPERS.md."""
