"""The invented register of Marrow Bay Energy: three sites, some 400 valves, six years of visits.

Everything in it is invented: owner, sites, people, makers, valves and results. The truth of each valve (how far
its set pressure lies off, how it drifts, whether it sticks) is drawn from one seed; what was found follows from
that truth, the instruments' errors and noise. Some tests are whole simulated recordings, analysed and kept.

draw.py       chance, identifiers and instants from one seed
plant.py      sites, positions, valves and what is true of them
crew.py       people, instruments and their calibrations
readings.py   tests by calculation: pulls read off with the instruments' errors, judged by the same core
recorded.py   tests by simulation: recordings and job sheets, analysed as a user's own would be
workshop.py   valves that leave, are lapped again, and come back elsewhere
visits.py     the campaigns, year by year
build.py      all of it into a store
"""
