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
    uint8_t staff;      /* MUTA_ANY, or one, from 1 */
    uint32_t voice;     /* MUTA_NO_NOTE for any, or an index in the part's voices */
    bool begins_inside; /* what only sounds into it is not reached */
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

/* An empty region. @param region [out] the caller's */
muta_status muta_region_new(muta_region **region) MUTA_CHECK;
/* Lets it reach one address more. */
muta_status muta_region_add(muta_region *region, const muta_range *range) MUTA_CHECK;
/*
 * The address that reaches a note of this part: it begins in it, or sounds into it; NULL when none
 * does. Borrows: region.
 */
const muta_range *muta_region_reaches(const muta_region *region, uint32_t part,
                                      const muta_note *note);
/* Every voice of every part between two moments. @param region [out] the caller's */
muta_status muta_region_between(const muta_score *score, muta_moment from, muta_moment to,
                                muta_region **region) MUTA_CHECK;
/* All other voices over the same bars. @param rest [out] the caller's; NULL when there are none */
muta_status muta_region_rest(const muta_score *score, const muta_region *region,
                             muta_region **rest) MUTA_CHECK;
/*
 * What of one part, over the whole score, a region does not reach. @param rest [out] the caller's;
 * NULL when that is nothing
 */
muta_status muta_region_complement(const muta_score *score, const muta_region *region, size_t part,
                                   muta_region **rest) MUTA_CHECK;
/*
 * Moves the edges of a region outwards, where they lie inside a tuplet or a tremolo of two notes of
 * a voice that it reaches, to the ends of that group. Returns whether one moved.
 */
bool muta_region_take_groups(const muta_score *score, muta_region *region);
/* The bars that a region covers, moved on by `bars`. */
void muta_region_shift(muta_region *region, int64_t bars);
/* Lets a region reach nothing before bar `from`, nor from bar `to` on, by index; some of it lies
 * between. */
void muta_region_clip(muta_region *region, uint32_t from, uint32_t to);
/* Lets a region of one bar reach so many, as far as the score has them. */
void muta_region_lengthen(const muta_score *score, muta_region *region, int64_t bars);
/* A part and all behind it have moved down by one, for another that was put in before it. */
void muta_region_push(muta_region *region, uint32_t part);
/* Whether a note of this part begins in the region. */
bool muta_region_holds(const muta_region *region, uint32_t part, const muta_note *note);

#endif
