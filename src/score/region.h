/* region.h: a resolved address. */
#ifndef SCORE_REGION_H
#define SCORE_REGION_H

#include "mutanza/passage.h"
#include "score/model.h"

enum {
    MUTA_ANY = 0
};

/* One address: a part's notes whose onset lies in [from, to). */
typedef struct muta_range {
    uint32_t part;
    uint8_t staff;  /* MUTA_ANY, or one, from 1 */
    uint32_t voice; /* MUTA_NO_NOTE for any, or an index in the part's voices */
    muta_moment from;
    muta_moment to; /* the first moment behind; at a bar line the next bar's start */
} muta_range;

struct muta_region {
    muta_arena arena;
    MUTA_VEC(muta_range) ranges;
    muta_moment from; /* what holds them all */
    muta_moment to;
    bool all_parts; /* every address said `*` or nothing */
};

/* Whether a note of this part lies in the region. */
bool muta_region_holds(const muta_region *region, const muta_score *score, uint32_t part,
                       const muta_note *note);

#endif
