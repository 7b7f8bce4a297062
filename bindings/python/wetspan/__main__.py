"""`python -m wetspan`: the command, where no script of it is on the path."""

import sys

from wetspan.command_line import program

sys.exit(program())
