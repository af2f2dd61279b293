"""What the sample study is made with: roads, weather, bus, driver and recorder.

Nothing of `gearing` is imported here. The bus is modelled apart from the package, with other
formulas where there was a choice, so that what the package finds can be held against a truth
it had no part in.
"""
