/*
 * hints.c: signs that stand for bars: several bars of rest as one, a bar or beat repeated, slashes.
 * Where a bar under such a sign is written anew the sign would hide it, and is taken off.
 */
#include "musicxml/rewrite.h"
#include <string.h>

static bool is_hint(muta_name name)
{
    return name == N_MULTIPLE_REST || name == N_MEASURE_REPEAT || name == N_BEAT_REPEAT ||
           name == N_SLASH;
}

/* The sign inside a `measure-style`; 0 when it holds another. */
static muta_node hint_in(const muta_tree *tree, muta_node style)
{
    muta_node child = muta_tree_first(tree, style);

    while (child && !is_hint(muta_tree_name(tree, child)))
        child = muta_tree_next(tree, child);
    return child;
}

/* A sign that is open, and where it stands. */
struct hint {
    muta_node style;
    muta_node attributes;
    uint32_t end; /* the first bar behind it, as far as known */
    bool hides;   /* a bar under it was written anew */
    uint32_t bar;
};

static bool is_anew(const muta_rewriting *rewriting, uint32_t bar)
{
    const muta_part_bars *const bars = &rewriting->bars;
    size_t low = 0;
    size_t high = bars->bars.count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (bars->bars.at[middle].bar < bar)
            low = middle + 1;
        else
            high = middle;
    }
    return low < bars->bars.count && bars->bars.at[low].bar == bar;
}

static void take_off(muta_rewriting *rewriting, const struct hint *hint)
{
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    muta_tree_remove(&rewriting->score->tree, hint->attributes, hint->style);
    muta_diag_add(rewriting->diags, MUTA_WARNING,
                  muta_score_place(rewriting->score, part,
                                   (muta_moment){hint->bar, MUTA_ALL_STAVES, MUTA_ZERO}),
                  "a sign for repeated bars or bars of rest was taken off: they differ now");
}

/* Opens or closes a sign; of one kind at a time. */
static void read_style(muta_rewriting *rewriting, muta_node attributes, muta_node style,
                       uint32_t bar, struct hint *open)
{
    const muta_tree *const tree = &rewriting->score->tree;
    const muta_node sign = hint_in(tree, style);
    const char *const type = sign ? muta_tree_attribute(tree, sign, N_TYPE) : NULL;
    int32_t count;

    if (!sign)
        return;
    if (type && strcmp(type, "stop") == 0) {
        if (open->style && open->hides) {
            const struct hint stop = {style, attributes, 0, true, bar};
            take_off(rewriting, open);
            take_off(rewriting, &stop);
        }
        open->style = 0;
        return;
    }
    *open = (struct hint){style, attributes, UINT32_MAX, false, bar};
    if (muta_tree_name(tree, sign) == N_MULTIPLE_REST &&
        muta_build_integer(tree, style, N_MULTIPLE_REST, &count) && count > 0)
        open->end = bar + (uint32_t)count;
}

static void read_bar(muta_rewriting *rewriting, muta_node cell, uint32_t bar, struct hint *open)
{
    const muta_tree *const tree = &rewriting->score->tree;
    muta_node next;

    for (muta_node child = muta_tree_first(tree, cell); child;
         child = muta_tree_next(tree, child)) {
        if (muta_tree_name(tree, child) != N_ATTRIBUTES)
            continue;
        for (muta_node style = muta_tree_first(tree, child); style; style = next) {
            next = muta_tree_next(tree, style);
            if (muta_tree_name(tree, style) == N_MEASURE_STYLE)
                read_style(rewriting, child, style, bar, open);
        }
    }
}

void muta_hints_drop(muta_rewriting *rewriting)
{
    const muta_part *const part = &rewriting->score->parts[rewriting->part];
    struct hint open = {.style = 0};

    for (uint32_t bar = 0; bar < part->bar_count; bar++) {
        const uint32_t now = rewriting->plan->bar_of[bar];
        if (open.style && bar >= open.end) {
            if (open.hides)
                take_off(rewriting, &open);
            open.style = 0;
        }
        if (part->bars[bar].cell)
            read_bar(rewriting, part->bars[bar].cell, bar, &open);
        if (open.style && (now == MUTA_NO_BAR || is_anew(rewriting, now)))
            open.hides = true;
    }
    if (open.style && open.hides)
        take_off(rewriting, &open);
}
