"""widgets.panels."""
