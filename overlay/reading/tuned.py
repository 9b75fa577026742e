"""The thresholds of reading that no source gives: what each does, and the boards on which it was chosen.

Those of the first group were tuned on the demonstration's simulation (``tests.truth.benchmark``: eight kinds of boards,
three seeds), those of the second on foreign worlds drawn by a ray caster (``tests.truth.worlds``: kinds like its own,
one seed; another seed judged them). None is critical: half or twice the value changes no figure by a fifth.
"""

from __future__ import annotations

# --- tuned on the demonstration's simulation

# Peak over mean of an unresolved part, as a share of its rise above the board: a heated bar cooled at both ends has
# a parabola on it, whose peak is a third of the inner difference above the mean. Halved with one side resolved.
PEAK_OVER_MEAN, PEAK_OVER_MEAN_U = 0.12, 0.08
# Real lenses have tails that no Gaussian has: what is unmixed is never better than this.
LEAST_UNMIXED_U_K = 0.3
# One part alone knows neither its pads nor its neighbours: this share of the contrast it has to fill in.
ALONE_U = 0.2
# Of what is put back onto a summit that blur had lowered, this share is uncertain.
PUT_BACK_U = 0.5
# Likewise of the rise followed on a straight line to the edge of the face, where nothing can be read.
FOLLOWED_U = 0.6
# Standard uncertainties of both by which the joint solution and a part's own best pixel must differ to contradict.
DISAGREE_SIGMAS = 2.5
# Of a part whose body nobody knows only the middle is read: elsewhere it may be hotter (common practice: packages
# differ by several kelvins from place to place).
BODILESS_SHARE_OF_RISE, BODILESS_LEAST_K = 0.1, 1.0
# What is worth a sentence.
EDGE_WORTH_SAYING_K, BOUND_WORTH_SAYING_K = 0.5, 1.0
# Further than this the joint solution cannot look for where a part truly lies: it may settle on the wrong edge. Then
# all that is found within so many standard uncertainties is as likely.
LOOSE_PX, LOOSE_REACH = 1.0, 1.5

# --- tuned on foreign worlds

# A pixel this full of a face shows the face; fewer than so many such pixels are no reading.
FILLED, LEAST_FILLED = 0.8, 4
# Of the best pixel's fill: pixels that bound what a face can be; looked for within so many of its place's standard
# uncertainties. A face that fills less of its best pixel is not bounded by it.
BEST_FILLED, REACH_SIGMAS, LEAST_FILL = 0.8, 2.0, 0.03
# Least uncertainty of a plain reading, and by how much bounds are widened for a lens's tails and for noise.
LEAST_PLAIN_U_K, SLACK_K, NOISE_SIGMAS = 0.3, 0.5, 2.0
# Of the blur, for the bounds: a fill that is taken too large would forbid the truth.
WIDER_BLUR = 1.3
# A value farther outside its bounds says nothing of where within them it belongs.
FAR_SIGMAS = 4.0
# Apart from the plain reading by more than so many standard uncertainties of both, or so many times less certain than
# it, a value is weighed with it; and this share of their difference stays uncertain.
PLAIN_SIGMAS, PLAIN_BETTER, PLAIN_APART_U = 2.0, 3.0, 0.3
# Bounds that leave this much of an uncertainty are none.
HARDLY_BOUNDED = 0.95
# Beyond the disc that stands for an unknown body, a place that it may well reach.
UNKNOWN_REACH_MM = 0.5
