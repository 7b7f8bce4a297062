"""Many sprays at once, as columns.

The input columns (`columns`) are matched with weather records (`weather`) and divided into portions
(`portions`, `landing_tables`), which the core computes (`core`). `dataset` assembles the results, at once or
chunk by chunk (`lazy`).
"""

from wetspan.batch.run import batch, batches

__all__ = ["batch", "batches"]
