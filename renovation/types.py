"""Arrays as the house writes them: the one place that says what they hold."""

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
IndexArray = npt.NDArray[np.intp]
"""Places in another array."""
BoolArray = npt.NDArray[np.bool_]
