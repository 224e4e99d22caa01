/*
 * group.c: tuplets and tremolos of two notes that lie across an edge. Time that moves takes the
 * whole group along.
 */
#include "score/region.h"

/* A run of notes of one voice that are written as one figure. */
struct group {
    muta_fraction from; /* in its bar */
    muta_fraction to;
    bool is_open;
    bool is_marked; /* a bracket or a tremolo says where it ends */
};

static bool is_plain(muta_fraction time)
{
    return (time.bottom & (time.bottom - 1)) == 0;
}

/* Goes on with a group by one note: without a mark it ends as soon as it fills plain time. */
static void step(struct group *group, const muta_note *note)
{
    const bool begins = note->flags & MUTA_NOTE_GROUP_BEGIN;

    if (!group->is_open || begins) {
        *group = (struct group){.from = note->onset,
                                .is_open = begins || (note->flags & MUTA_NOTE_TUPLET),
                                .is_marked = begins};
    }
    group->to = muta_fraction_add(note->onset, note->duration);
    if (group->is_marked ? (note->flags & MUTA_NOTE_GROUP_END) != 0
                         : !(note->flags & MUTA_NOTE_TUPLET) ||
                               is_plain(muta_fraction_subtract(group->to, group->from)))
        group->is_open = false;
}

/* The group of a voice that lies across a moment inside a bar; false when none does. */
static bool lies_across(const muta_part *part, uint32_t voice, muta_moment at, struct group *found)
{
    const muta_part_bar *const bar = &part->bars[at.bar];
    struct group group = {MUTA_ZERO, MUTA_ZERO, false, false};

    for (uint32_t i = bar->first; i < bar->first + bar->count; i++) {
        const muta_note *const note = &part->notes.at[i];
        if (note->voice != voice || (note->flags & (MUTA_NOTE_CHORD | MUTA_NOTE_GRACE)))
            continue;
        const bool went_on = group.is_open;
        step(&group, note);
        if (!went_on && !group.is_open && !(note->flags & MUTA_NOTE_TUPLET))
            continue;
        if (muta_fraction_compare(group.from, at.onset) >= 0)
            return false;
        /* It is known whole when it ends. */
        if (!group.is_open && muta_fraction_compare(at.onset, group.to) < 0) {
            *found = group;
            return true;
        }
    }
    return false;
}

/* Moves an edge outwards over the groups of all voices that the range reaches. */
static bool take(const muta_score *score, const muta_range *range, bool is_end, muta_moment *edge)
{
    const muta_part *const part = &score->parts[range->part];
    bool moved = false;

    for (uint32_t voice = 0; voice < part->voices.count; voice++) {
        struct group group = {MUTA_ZERO, MUTA_ZERO, false, false};
        if (edge->bar >= part->bar_count || edge->onset.top == 0 ||
            (range->voice != MUTA_NO_NOTE && range->voice != voice) ||
            (range->staff != MUTA_ANY && range->staff != part->voices.at[voice].home) ||
            !lies_across(part, voice, *edge, &group))
            continue;
        edge->onset = is_end ? group.to : group.from;
        moved = true;
    }
    if (moved && muta_fraction_compare(edge->onset, part->bars[edge->bar].length) >= 0)
        *edge = (muta_moment){edge->bar + 1, MUTA_ALL_STAVES, MUTA_ZERO};
    return moved;
}

bool muta_region_take_groups(const muta_score *score, muta_region *region)
{
    bool moved = false;

    for (size_t i = 0; i < region->ranges.count; i++) {
        muta_range *const range = &region->ranges.at[i];
        moved = take(score, range, false, &range->from) || moved;
        moved = take(score, range, true, &range->to) || moved;
        if (muta_moment_compare(range->from, region->from) < 0)
            region->from = range->from;
        if (muta_moment_compare(range->to, region->to) > 0)
            region->to = range->to;
    }
    return moved;
}
