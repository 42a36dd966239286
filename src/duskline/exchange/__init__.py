"""Files in and out: the farm folder, outlines, forecasts, trays, logs."""
