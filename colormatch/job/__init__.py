"""The stages in order: what the command line, or a script, calls.

`checking.check`, `matching.match` and `merging.merge` are the three jobs, their
options are in `options`; each module loads no more than its own job needs.
"""
