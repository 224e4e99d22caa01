/*
 * each_part.h: the same work on every part of a score. In a large partwise score two threads take
 * the parts by turns, since what belongs to a part (its bars, notes and tracks, and its branch of
 * the tree) belongs to it alone.
 */
#ifndef SCORE_EACH_PART_H
#define SCORE_EACH_PART_H

#include "score/model.h"

/*
 * Work on one part: it changes that part and the branch of it, and no other; of the rest of the
 * score it reads what no other part's work changes. `score` is another one than was given, with the
 * same parts, where it is done in a second thread; names may not be added to its tree.
 */
typedef muta_status (*muta_part_work)(muta_score *score, uint32_t part, void *context,
                                      muta_diags *diags);

/*
 * Does it, part after part or side by side: what comes out and what is said is the same. The first
 * part that fails, in the order of the score, gives the status; others may have been worked on.
 */
muta_status muta_each_part(muta_score *score, muta_part_work work, void *context,
                           muta_diags *diags) MUTA_CHECK;

#endif
