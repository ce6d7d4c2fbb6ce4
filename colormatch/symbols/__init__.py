"""The symbol that names a printed sheet: codewords, modules, and what they say."""
