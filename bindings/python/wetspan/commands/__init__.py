"""The commands of `wetspan`, one module each, loaded when the command is used."""
