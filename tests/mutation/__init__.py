"""Mutation: does a test notice when the judge is wrong?

Every mutant is the judge with one small mistake in it. It is *killed* when a test fails; one that nothing kills is
either a missing test or *equivalent*: a change that changes nothing, which is said by name in ``equivalent.py``.
"""
