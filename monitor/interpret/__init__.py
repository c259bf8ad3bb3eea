"""What the trade sees in the curve: the residual DP after cleaning, the running average. Pure."""
