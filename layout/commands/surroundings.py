"""Variables of other programs that would turn our map libraries wrong."""

import os

# An older PROJ on the machine makes the raster reader forget every CRS; a driver
# folder of another GDAL loads code we did not ship.
FOREIGN = ("PROJ_LIB", "PROJ_DATA", "GDAL_DATA", "GDAL_DRIVER_PATH")


def drop_foreign_data() -> list[str]:
    """Forget those variables in this process, before any map library is loaded.

    Returns
    -------
    list of str
        A line for each that was dropped.
    """
    return [
        f"{name}={os.environ.pop(name)} of another program is not used"
        for name in FOREIGN
        if name in os.environ
    ]
