"""From charge to metal, thickness and time, each formula with its source.

`metals` the elements and mixtures of them · `alloys` what people call them · `faraday` charge
and mass · `efficiency` how much of the charge lays metal down · `thickness` mass to
micrometres, rates and times · `baths` what goes in and out of a solution · `rinse` dilution and
drag-out · `uncertainty` how sure · `validity` what is refused · `explanation` why a figure is
what it is.
"""
