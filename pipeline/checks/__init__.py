"""checks: see DEVELOPERS.md."""
