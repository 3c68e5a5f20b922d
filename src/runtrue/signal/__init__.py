"""Arrays and seconds: filters, delays, resampling."""
