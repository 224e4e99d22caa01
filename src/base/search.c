/*
 * search.c: dynamic programming from the last step to the first, so that of equal ways the one with
 * the earlier candidates in front is met first. Each candidate keeps the k best ways on from it.
 */
#include "base/search.h"
#include <stdbool.h>

/* A way on from a candidate: what the rest costs, and through which way of which candidate. */
struct way {
    int64_t cost;
    uint32_t next; /* candidate of the next step */
    uint32_t nth;  /* of its ways */
};

/* The ways on from the candidates of one step, `wanted` for each. */
struct layer {
    uint32_t count;
    struct way *ways;
    uint32_t *known; /* by candidate: how many of its ways there are */
};

struct work {
    const muta_search *search;
    muta_arena arena;
    struct layer *layers;
    size_t wanted;
};

/* Adds a way in order of cost; among equals it comes behind those that are there. */
static void insert(struct way *ways, uint32_t *known, size_t wanted, struct way way)
{
    uint32_t at = *known;

    if (at == wanted && ways[at - 1].cost <= way.cost)
        return;
    if (at == wanted)
        at--;
    else
        ++*known;
    for (; at > 0 && ways[at - 1].cost > way.cost; at--)
        ways[at] = ways[at - 1];
    ways[at] = way;
}

static bool add_layer(struct work *work, size_t step, uint32_t count)
{
    struct layer *const layer = &work->layers[step];

    layer->count = count;
    layer->ways =
        muta_arena_take_array(&work->arena, count * work->wanted + 1, sizeof *layer->ways);
    layer->known = muta_arena_take_array(&work->arena, count + (size_t)1, sizeof *layer->known);
    return layer->ways && layer->known;
}

/* Tries every candidate of the next step behind one. */
static void extend(const struct work *work, size_t step, uint32_t from, struct way *ways,
                   uint32_t *known)
{
    const struct layer *const next = &work->layers[step];

    for (uint32_t to = 0; to < next->count; to++) {
        if (next->known[to] == 0)
            continue;
        const int64_t price = work->search->price(work->search->context, step, from, to);
        for (uint32_t nth = 0; price != MUTA_FORBIDDEN && nth < next->known[to]; nth++)
            insert(ways, known, work->wanted,
                   (struct way){price + next->ways[to * work->wanted + nth].cost, to, nth});
    }
}

static bool build(struct work *work)
{
    const size_t steps = work->search->steps;

    for (size_t step = steps; step > 0; step--) {
        const uint32_t count = work->search->count(work->search->context, step - 1);
        if (!add_layer(work, step - 1, count))
            return false;
        struct layer *const layer = &work->layers[step - 1];
        for (uint32_t i = 0; i < count; i++) {
            struct way *const ways = &layer->ways[i * work->wanted];
            if (step < steps)
                extend(work, step, i, ways, &layer->known[i]);
            else
                insert(ways, &layer->known[i], work->wanted, (struct way){.cost = 0});
        }
    }
    return true;
}

static muta_status read_answer(const struct work *work, muta_arena *arena, struct way way,
                               muta_answer *answer)
{
    const size_t steps = work->search->steps;

    answer->cost = way.cost;
    answer->taken = muta_arena_take_array(arena, steps + 1, sizeof *answer->taken);
    if (!answer->taken)
        return MUTA_E_MEMORY;
    for (size_t step = 0; step < steps; step++) {
        answer->taken[step] = way.next;
        way = work->layers[step].ways[way.next * work->wanted + way.nth];
    }
    return MUTA_OK;
}

static muta_status find(struct work *work, muta_arena *arena, muta_answer *answers, size_t *found)
{
    struct way *const ways = muta_arena_take_array(&work->arena, work->wanted + 1, sizeof *ways);
    uint32_t known = 0;

    work->layers =
        muta_arena_take_array(&work->arena, work->search->steps + 1, sizeof *work->layers);
    if (!ways || !work->layers || !build(work))
        return MUTA_E_MEMORY;
    if (work->search->steps > 0)
        extend(work, 0, MUTA_NO_CANDIDATE, ways, &known);
    for (uint32_t i = 0; i < known; i++)
        MUTA_TRY(read_answer(work, arena, ways[i], &answers[i]));
    *found = known;
    return MUTA_OK;
}

muta_status muta_search_best(muta_arena *arena, const muta_search *search, size_t wanted,
                             muta_answer *answers, size_t *found)
{
    struct work work = {.search = search, .wanted = wanted};
    const muta_status status = find(&work, arena, answers, found);

    muta_arena_clear(&work.arena);
    return status;
}
