"""A made-up thermal camera over made-up boards, so that the truth is known.

Independent on purpose of the library that it serves to judge: nothing here imports ``overlay``.
"""
