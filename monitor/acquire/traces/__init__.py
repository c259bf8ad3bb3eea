"""Recorded data in: CSV and Parquet files become samples of the site's points, oldest first."""
