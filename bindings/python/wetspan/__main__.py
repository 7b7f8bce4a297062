"""`python -m wetspan` runs the command where its script is not on the path."""

import sys

from wetspan.command_line import program

sys.exit(program())
