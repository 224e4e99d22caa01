/* layout.c: bars of one rhythm are written alike, and found out once. */
#include "notate/written.h"

static uint32_t mix(uint32_t hash, int64_t number)
{
    return (hash ^ (uint32_t)number ^ (uint32_t)((uint64_t)number >> 32)) * 16777619U;
}

static uint32_t hash_of(const muta_segments *segments)
{
    uint32_t hash = 2166136261U;

    for (size_t i = 0; i < segments->count; i++) {
        hash = mix(hash, segments->at[i].to.top);
        hash = mix(hash, segments->at[i].to.bottom);
        hash = mix(hash, segments->at[i].what == MUTA_SILENCE);
    }
    return hash ^ hash >> 16;
}

static bool is_same_pulse(const muta_pulse *a, const muta_pulse *b)
{
    bool same = a->count == b->count && a->is_loose == b->is_loose &&
                muta_fraction_compare(a->start, b->start) == 0 &&
                muta_fraction_compare(a->beat, b->beat) == 0;

    for (size_t i = 0; same && i < a->count; i++)
        same = a->groups[i] == b->groups[i];
    return same;
}

/* What they stand for does not matter, but whether it sounds. */
static bool is_same_segment(const muta_segment *a, const muta_segment *b)
{
    return muta_fraction_compare(a->from, b->from) == 0 &&
           muta_fraction_compare(a->to, b->to) == 0 && a->is_gap == b->is_gap &&
           a->is_kept == b->is_kept && a->keeps_beams == b->keeps_beams && a->is_cue == b->is_cue &&
           a->type == b->type && a->dots == b->dots &&
           (a->what == MUTA_SILENCE) == (b->what == MUTA_SILENCE);
}

static bool is_known(const muta_layout *layout, const muta_pulse *pulse,
                     const muta_segments *segments)
{
    bool same = layout->segments.count == segments->count && is_same_pulse(&layout->pulse, pulse);

    for (size_t i = 0; same && i < segments->count; i++)
        same = is_same_segment(&layout->segments.at[i], &segments->at[i]);
    return same;
}

muta_status muta_notate_bar(muta_layouts *known, muta_arena *arena, const muta_pulse *pulse,
                            const muta_segments *segments, muta_items *items)
{
    muta_layout *const layout = &known->at[hash_of(segments) % MUTA_LAYOUTS];

    if (segments->count > 0 && is_known(layout, pulse, segments)) {
        *items = layout->items;
        return MUTA_OK;
    }
    if (!MUTA_RESERVE(arena, items, segments->count + 1))
        return MUTA_E_MEMORY;
    MUTA_TRY(muta_notate_values(arena, pulse, segments, items));
    muta_notate_beams(pulse, segments, items);
    *layout = (muta_layout){*pulse, *segments, *items};
    return MUTA_OK;
}
