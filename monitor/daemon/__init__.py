"""The only room that knows everybody: builds, starts, joins, reloads and stops."""
