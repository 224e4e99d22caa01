/* region.c: stretches of a score as they are resolved: grown, parted, turned inside out, named. */
#include "score/region.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

muta_status muta_region_new(muta_region **region)
{
    *region = calloc(1, sizeof **region);
    if (!*region)
        return MUTA_E_MEMORY;
    (*region)->all_parts = true;
    return MUTA_OK;
}

muta_status muta_region_add(muta_region *region, const muta_range *range)
{
    muta_range *const added = MUTA_PUSH(&region->arena, &region->ranges);

    if (!added)
        return MUTA_E_MEMORY;
    *added = *range;
    if (region->ranges.count == 1 || muta_moment_compare(range->from, region->from) < 0)
        region->from = range->from;
    if (region->ranges.count == 1 || muta_moment_compare(range->to, region->to) > 0)
        region->to = range->to;
    return MUTA_OK;
}

/* Grows a stretch until no range reaches over its edges. */
static void grow_stretch(const muta_region *region, muta_moment *from, muta_moment *to)
{
    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        const bool apart = muta_moment_compare(range->to, *from) <= 0 ||
                           muta_moment_compare(range->from, *to) >= 0;
        const bool inside = muta_moment_compare(range->from, *from) >= 0 &&
                            muta_moment_compare(range->to, *to) <= 0;
        if (apart || inside)
            continue;
        if (muta_moment_compare(range->from, *from) < 0)
            *from = range->from;
        if (muta_moment_compare(range->to, *to) > 0)
            *to = range->to;
        i = SIZE_MAX; /* look at all of them again */
    }
}

/* The first stretch that begins at or behind a moment; false when there is none. */
static bool next_stretch(const muta_region *region, muta_moment behind, muta_moment *from,
                         muta_moment *to)
{
    bool found = false;

    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        if (muta_moment_compare(range->from, behind) < 0 ||
            (found && muta_moment_compare(range->from, *from) >= 0))
            continue;
        *from = range->from;
        *to = range->to;
        found = true;
    }
    if (found)
        grow_stretch(region, from, to);
    return found;
}

muta_status muta_region_part(const muta_region *region, size_t nth, muta_region **part)
{
    muta_region *made;
    muta_moment from = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    muta_moment to = from;
    bool found = true;

    for (size_t i = 0; i <= nth && found; i++)
        found = next_stretch(region, to, &from, &to);
    *part = NULL;
    if (!found)
        return MUTA_OK;
    MUTA_TRY(muta_region_new(&made));
    made->all_parts = region->all_parts;
    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        if (muta_moment_compare(range->from, from) < 0 || muta_moment_compare(range->to, to) > 0)
            continue;
        const muta_status status = muta_region_add(made, range);
        if (status != MUTA_OK) {
            muta_region_free(made);
            return status;
        }
    }
    *part = made;
    return MUTA_OK;
}

void muta_region_free(muta_region *region)
{
    if (!region)
        return;
    muta_arena_clear(&region->arena);
    free(region);
}

/* The address speaks for the note's staff and voice. */
static bool speaks_for(const muta_range *range, uint32_t part, const muta_note *note)
{
    return range->part == part && (range->staff == MUTA_ANY || range->staff == note->staff) &&
           (range->voice == MUTA_NO_NOTE || range->voice == note->voice);
}

static bool begins_in(const muta_range *range, const muta_note *note)
{
    const muta_moment at = {note->bar, note->staff, note->onset};

    return muta_moment_compare(range->from, at) <= 0 && muta_moment_compare(at, range->to) < 0;
}

const muta_range *muta_region_reaches(const muta_region *region, uint32_t part,
                                      const muta_note *note)
{
    const muta_moment end = {note->bar, note->staff,
                             muta_fraction_add(note->onset, note->duration)};

    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        if (speaks_for(range, part, note) &&
            (begins_in(range, note) ||
             (!range->begins_inside && range->from.bar == note->bar &&
              muta_moment_compare(range->from, end) < 0 &&
              muta_fraction_compare(note->onset, range->from.onset) < 0 && note->duration.top > 0)))
            return range;
    }
    return NULL;
}

bool muta_region_holds(const muta_region *region, uint32_t part, const muta_note *note)
{
    for (size_t i = 0; i < region->ranges.count; i++)
        if (speaks_for(&region->ranges.at[i], part, note) && begins_in(&region->ranges.at[i], note))
            return true;
    return false;
}

/* Whether the region speaks for a voice at all. */
static bool speaks_for_voice(const muta_region *region, uint32_t part, uint32_t voice, uint8_t home)
{
    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        if (range->part == part && (range->voice == MUTA_NO_NOTE || range->voice == voice) &&
            (range->staff == MUTA_ANY || range->staff == home))
            return true;
    }
    return false;
}

static muta_status add_voice(muta_region *region, uint32_t part, uint32_t voice, muta_moment from,
                             muta_moment to)
{
    const muta_range range = {.part = part, .voice = voice, .from = from, .to = to};

    return muta_moment_compare(from, to) < 0 ? muta_region_add(region, &range) : MUTA_OK;
}

muta_status muta_region_between(const muta_score *score, muta_moment from, muta_moment to,
                                muta_region **region)
{
    muta_region *made;
    muta_status status = muta_region_new(&made);

    for (uint32_t i = 0; status == MUTA_OK && i < score->part_count; i++)
        for (uint32_t j = 0; status == MUTA_OK && j < score->parts[i].voices.count; j++)
            status = add_voice(made, i, j, from, to);
    if (status != MUTA_OK) {
        muta_region_free(made);
        return status;
    }
    made->from = from;
    made->to = to;
    *region = made;
    return MUTA_OK;
}

muta_status muta_region_rest(const muta_score *score, const muta_region *region, muta_region **rest)
{
    muta_region *made;
    muta_status status = muta_region_new(&made);

    for (uint32_t i = 0; i < score->part_count; i++)
        for (uint32_t j = 0; status == MUTA_OK && j < score->parts[i].voices.count; j++)
            if (!speaks_for_voice(region, i, j, score->parts[i].voices.at[j].home))
                status = add_voice(made, i, j, region->from, region->to);
    *rest = NULL;
    if (status != MUTA_OK || made->ranges.count == 0) {
        muta_region_free(made);
        return status;
    }
    made->from = region->from;
    made->to = region->to;
    *rest = made;
    return MUTA_OK;
}

muta_status muta_region_complement(const muta_score *score, const muta_region *region, size_t part,
                                   muta_region **rest)
{
    const muta_moment start = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    const muta_moment end = {(uint32_t)score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO};
    const muta_part *const of = &score->parts[part];
    muta_region *made;
    muta_status status = muta_region_new(&made);

    for (uint32_t i = 0; status == MUTA_OK && i < of->voices.count; i++) {
        const bool reached = speaks_for_voice(region, (uint32_t)part, i, of->voices.at[i].home);
        status = add_voice(made, (uint32_t)part, i, start, reached ? region->from : end);
        if (status == MUTA_OK && reached)
            status = add_voice(made, (uint32_t)part, i, region->to, end);
    }
    *rest = NULL;
    if (status != MUTA_OK || made->ranges.count == 0)
        muta_region_free(made);
    else
        *rest = made;
    return status;
}

void muta_region_shift(muta_region *region, int64_t bars)
{
    region->from.bar = (uint32_t)(region->from.bar + bars);
    region->to.bar = (uint32_t)(region->to.bar + bars);
    for (size_t i = 0; i < region->ranges.count; i++) {
        muta_range *const range = &region->ranges.at[i];
        range->from.bar = (uint32_t)(range->from.bar + bars);
        range->to.bar = (uint32_t)(range->to.bar + bars);
    }
}

void muta_region_clip(muta_region *region, uint32_t from, uint32_t to)
{
    const muta_moment first = {from, MUTA_ALL_STAVES, MUTA_ZERO};
    const muta_moment last = {to, MUTA_ALL_STAVES, MUTA_ZERO};
    size_t kept = 0;

    for (size_t i = 0; i < region->ranges.count; i++) {
        muta_range range = region->ranges.at[i];
        if (muta_moment_compare(range.from, first) < 0)
            range.from = first;
        if (muta_moment_compare(range.to, last) > 0)
            range.to = last;
        if (muta_moment_compare(range.from, range.to) < 0)
            region->ranges.at[kept++] = range;
    }
    region->ranges.count = kept;
    region->from = muta_moment_compare(region->from, first) < 0 ? first : region->from;
    region->to = muta_moment_compare(region->to, last) > 0 ? last : region->to;
}

void muta_region_push(muta_region *region, uint32_t part)
{
    region->all_parts = false;
    for (size_t i = 0; i < region->ranges.count; i++)
        region->ranges.at[i].part += region->ranges.at[i].part >= part;
}

muta_interval muta_region_transposition(const muta_region *region, const muta_score *score,
                                        size_t part)
{
    for (size_t i = 0; i < region->ranges.count; i++)
        if (region->ranges.at[i].part == part) {
            muta_moment at = region->from;
            at.staff = region->ranges.at[i].staff == MUTA_ANY ? 1 : region->ranges.at[i].staff;
            return muta_part_transposition_at(&score->parts[part], at);
        }
    return (muta_interval){0, 0};
}

static void print_point(const muta_score *score, muta_moment at, char *text)
{
    char beat[MUTA_FRACTION_TEXT];
    const muta_bar *const bar = &score->bars[at.bar];
    const char *const number = at.bar == 0 && muta_score_has_pickup(score) ? "0" : bar->number;

    if (at.onset.top == 0)
        (void)snprintf(text, 64, "%.30s", number);
    else
        (void)snprintf(text, 64, "%.30s.%s", number,
                       muta_fraction_print_mixed(muta_score_place(score, NULL, at).beat, beat));
}

/* The last moment inside, as a reader names it: the bar, or the beat that ends there. */
static void print_end(const muta_score *score, muta_moment to, char *text)
{
    if (to.onset.top == 0) {
        to.bar--;
    } else {
        to.onset = muta_fraction_subtract(to.onset,
                                          muta_fraction_of(4, score->bars[to.bar].metre.beat_type));
        if (to.onset.top == 0) { /* the first beat, which print_point leaves out */
            (void)snprintf(text, 64, "%.30s.1", score->bars[to.bar].number);
            return;
        }
    }
    print_point(score, to, text);
}

const char *muta_region_print(const muta_score *score, const muta_region *region, char *text,
                              size_t room)
{
    char from[64];
    char to[64];
    const muta_range *const first = region->ranges.at;
    bool one_part = true;

    for (size_t i = 1; i < region->ranges.count; i++)
        one_part = one_part && region->ranges.at[i].part == first->part;
    print_point(score, region->from, from);
    print_end(score, region->to, to);
    const bool one_bar = strcmp(from, to) == 0;
    const char *const name = region->all_parts ? "all parts"
                             : one_part        ? score->parts[first->part].name
                                               : "several parts";
    if (!region->all_parts && one_part && first->staff != MUTA_ANY)
        (void)snprintf(text, room, "bar%s %s%s%s of %s/%d", one_bar ? "" : "s", from,
                       one_bar ? "" : "-", one_bar ? "" : to, name, first->staff);
    else
        (void)snprintf(text, room, "bar%s %s%s%s of %s", one_bar ? "" : "s", from,
                       one_bar ? "" : "-", one_bar ? "" : to, name);
    return text;
}
