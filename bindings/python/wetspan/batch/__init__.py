"""Many sprays at once: columns in, columns out.

The columns that are given (`columns`) are placed in weather (`weather`) and cut into portions (`portions`,
`landing_tables`), which the core computes (`core`); `dataset` assembles what they come to, at once or chunk
by chunk (`lazy`).
"""

from wetspan.batch.run import batch, batches

__all__ = ["batch", "batches"]
