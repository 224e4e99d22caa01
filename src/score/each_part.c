/* each_part.c: the same work on every part of a score, by two threads where that pays. */
#include "score/each_part.h"
#include "base/crew.h"
#include <stdlib.h>

/* What comes of a part's work. */
struct result {
    muta_status status;
    muta_diags *diags;
};

/* A part, and how much there is of it. */
struct load {
    uint32_t part;
    muta_node weight;
};

struct shift {
    muta_score *score;
    muta_score twin; /* the score as the second thread has it */
    muta_part_work work;
    void *context;
    struct result *results; /* by part */
    struct load *loads;     /* the heaviest first, so that the last ones end at one time */
    muta_turns turns;
};

static void take_parts(void *of, bool is_beside)
{
    struct shift *const shift = of;
    muta_score *const score = is_beside ? &shift->twin : shift->score;
    muta_status status = MUTA_OK;
    size_t nth;

    /* Without memory its tree may be of no more use. */
    while (status != MUTA_E_MEMORY &&
           (nth = muta_turns_take(&shift->turns)) < shift->score->part_count) {
        const uint32_t part = shift->loads[nth].part;
        status = shift->work(score, part, shift->context, shift->results[part].diags);
        shift->results[part].status = status;
    }
}

/* Parts of one id have one branch, or claim to. */
static bool has_twice(const muta_score *score)
{
    for (size_t i = 0; i < score->part_count; i++)
        for (size_t j = 0; j < i; j++)
            if (score->parts[i].id == score->parts[j].id)
                return true;
    return false;
}

static bool is_worth_it(const muta_score *score)
{
    return score->tree.crew && score->part_count > 1 && !score->is_timewise && !has_twice(score);
}

static muta_status one_by_one(muta_score *score, muta_part_work work, void *context,
                              muta_diags *diags)
{
    for (uint32_t part = 0; part < score->part_count; part++)
        MUTA_TRY(work(score, part, context, diags));
    return MUTA_OK;
}

/* By the ids of its first and last bar: what is read one after the other is numbered so. */
static muta_node weight_of(const muta_part *part)
{
    const muta_node first = part->bar_count > 0 ? part->bars[0].cell : 0;
    const muta_node last = part->bar_count > 0 ? part->bars[part->bar_count - 1].cell : 0;

    return last > first ? last - first : 0;
}

/* The heavier one, or of equals the first. */
static int by_weight(const void *a, const void *b)
{
    const struct load *const one = a;
    const struct load *const two = b;

    return one->weight != two->weight ? (one->weight > two->weight ? -1 : 1)
                                      : (one->part > two->part) - (one->part < two->part);
}

/* Each part's messages are kept apart until all are there, so that they come in order. */
static muta_status prepare(struct shift *shift, bool says)
{
    shift->results = calloc(shift->score->part_count, sizeof *shift->results);
    shift->loads = calloc(shift->score->part_count, sizeof *shift->loads);
    if (!shift->results || !shift->loads)
        return MUTA_E_MEMORY;
    for (uint32_t part = 0; part < shift->score->part_count; part++)
        shift->loads[part] = (struct load){part, weight_of(&shift->score->parts[part])};
    qsort(shift->loads, shift->score->part_count, sizeof *shift->loads, by_weight);
    for (size_t i = 0; says && i < shift->score->part_count; i++) {
        shift->results[i].diags = muta_diags_new();
        if (!shift->results[i].diags)
            return MUTA_E_MEMORY;
    }
    shift->twin = *shift->score;
    muta_arena_init(&shift->twin.arena); /* nobody takes of it */
    return muta_tree_fork(&shift->score->tree, &shift->twin.tree);
}

static muta_status gather(const struct shift *shift, muta_diags *diags)
{
    for (size_t i = 0; i < shift->score->part_count; i++) {
        muta_diags_append(diags, shift->results[i].diags);
        MUTA_TRY(shift->results[i].status);
    }
    return MUTA_OK;
}

muta_status muta_each_part(muta_score *score, muta_part_work work, void *context, muta_diags *diags)
{
    struct shift shift = {.score = score, .work = work, .context = context};

    if (!is_worth_it(score) || !muta_turns_init(&shift.turns))
        return one_by_one(score, work, context, diags);
    muta_status status = prepare(&shift, diags != NULL);
    if (status == MUTA_OK) {
        muta_crew_run(score->tree.crew, take_parts, &shift);
        status = gather(&shift, diags);
    }
    if (status == MUTA_OK)
        status = muta_tree_join(&score->tree, &shift.twin.tree);
    else if (shift.twin.tree.is_twin)
        muta_tree_clear(&shift.twin.tree);
    muta_turns_clear(&shift.turns);
    for (size_t i = 0; shift.results && i < score->part_count; i++)
        muta_diags_free(shift.results[i].diags);
    free(shift.results);
    free(shift.loads);
    return status;
}
