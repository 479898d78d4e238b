"""Which piece of work falls to which turn of a parallel loop."""

from rakelight.light.kernels.compile import inline

#: Hands that pieces are dealt to: of as many threads, or of half as many, each has as much to do.
#: Not the number of threads: kernels that ask for it cannot be kept compiled.
HANDS = 4


@inline
def dealt(turn, count):
    """Piece that is done at one of `count` turns: pieces are dealt out like cards.

    A parallel loop gives each thread a run of neighbouring turns. Neighbouring pieces cost much
    the same, and a floor in the lower half of a picture or a run above the upper rows left one
    of two threads without work. Every piece has one turn, with any number of threads.
    """
    each = count // HANDS
    more = count - each * HANDS  # hands with one card more than the others: the first ones
    ahead = more * (each + 1)
    if turn < ahead:
        hand = turn // (each + 1)
        place = turn - hand * (each + 1)
    else:
        hand = more + (turn - ahead) // each
        place = turn - ahead - (hand - more) * each
    return place * HANDS + hand
