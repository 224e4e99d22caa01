/*
 * search.h: the k best ways through a row of steps, of each of which one candidate is taken. It
 * knows no music.
 *
 *     step 0      step 1      step 2
 *      a ─────────── a ────────── a        price(step, from, to): what it costs to come to `to`
 *        ╲         ╱   ╲                   from `from`, or that it may not be
 *      b ─────────── b ────────── b
 *
 * Exact: what comes later must depend on what went before through the last candidate alone.
 */
#ifndef BASE_SEARCH_H
#define BASE_SEARCH_H

#include "base/arena.h"
#include "mutanza/status.h"
#include <stdint.h>

/* What may not be. */
#define MUTA_FORBIDDEN INT64_MAX

/* No candidate before the first. */
#define MUTA_NO_CANDIDATE UINT32_MAX

typedef struct muta_search {
    void *context;
    size_t steps;
    /* How many candidates a step has. */
    uint32_t (*count)(void *context, size_t step);
    /* What `to` costs behind `from`; thousandths, or MUTA_FORBIDDEN. */
    int64_t (*price)(void *context, size_t step, uint32_t from, uint32_t to);
} muta_search;

/* One answer. Borrows: the arena it was found in. */
typedef struct muta_answer {
    int64_t cost;
    uint32_t *taken; /* by step */
} muta_answer;

/*
 * Finds the `wanted` best answers, the best first; of equals the one that takes the earlier
 * candidate at the first step where they differ comes first. Time: steps x candidates squared x
 * wanted; memory: steps x candidates x wanted.
 * @param answers  [out] `wanted` of them
 * @param found    [out] how many there are: fewer when there are no more
 * @return MUTA_OK or MUTA_E_MEMORY
 */
muta_status muta_search_best(muta_arena *arena, const muta_search *search, size_t wanted,
                             muta_answer *answers, size_t *found) MUTA_CHECK;

#endif
