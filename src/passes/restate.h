/* restate.h: what passes share that state a piece again on other steps. */
#ifndef PASSES_RESTATE_H
#define PASSES_RESTATE_H

#include "passes/pass.h"

/* A way from statement to statement. */
typedef struct muta_way {
    muta_interval by;
    int64_t times; /* statements in all that stay in the range */
} muta_way;

/*
 * The way that a piece can go: as asked, or the other way, where the range ends sooner that way;
 * what differs from what was asked is told.
 * @return MUTA_E_DATA, and told, when it cannot be stated a second time either way
 */
muta_status muta_way_find(const muta_call *call, muta_interval by, int64_t times,
                          muta_way *way) MUTA_CHECK;
/*
 * Moves the tones of the nth statement, from 0. Where it would pass seven accidentals on the line
 * of fifths, it is respelled as a whole.
 */
muta_status muta_way_move(const muta_call *call, const muta_way *way, int64_t nth, muta_kind kind,
                          muta_tones *stated) MUTA_CHECK;

#endif
