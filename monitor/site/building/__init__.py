"""Building: the shape of the site file becomes the settings of the rooms, in inside units."""
