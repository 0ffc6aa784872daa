"""widgets.kit."""
