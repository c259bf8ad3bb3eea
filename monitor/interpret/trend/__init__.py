"""How the residual DP goes up over the life of a set of filters, and when it will reach its limit. Pure."""
