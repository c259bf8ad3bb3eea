"""A stand-in for the daemon behind the page: it serves the page's files and the JSON the page asks for."""
