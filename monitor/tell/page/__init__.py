"""Page: the plant as people see it in a browser, and the addresses that the page asks."""
