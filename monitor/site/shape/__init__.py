"""The shape of the site file: typed models, each key with its default, limits and where they come from."""
