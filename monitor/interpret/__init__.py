"""What the trade sees in the curve: cleaning cycles, ageing, symptoms, causes, advice. Pure."""
