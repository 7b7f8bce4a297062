"""What each command of `wetspan` does: one module for each, loaded when it is asked for."""
