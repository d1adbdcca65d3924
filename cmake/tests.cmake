# What the tests need beyond one executable a file: command-line cases, corpora, page tests.
