"""One turn of the whole core: (plan, state, input, time) → (state, outcome). Pure, so any day can be replayed."""
