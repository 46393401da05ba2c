"""First lift: what each channel says about the moment, the joint estimate, and why this instant.

onset.py     where to look: the loading stretch and the departure from the stiff line
bend.py      one channel: profile likelihood of a bend over a window, by weighted least squares
choose.py    one channel: which windows and orders the data allow; its density of first lift
fuse.py      several channels: the joint density, force and line pressure at the moment
decide.py    lifted or not, from what must be true together
closure.py   closure observed, friction, signature
find.py      the way of one pull
"""
