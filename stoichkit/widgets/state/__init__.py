"""widgets.state."""
