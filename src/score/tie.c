/*
 * tie.c: pairs the ends of ties: same sound, one where the other ends; and, where the tones of a
 * broken chord are tied into the held one, the other some time behind it, in its bar or the next.
 */
#include "score/model.h"
#include <string.h>

struct end {
    uint32_t note;
    muta_fraction time; /* where the tied note ends, or begins */
};

typedef MUTA_VEC(struct end) ends;

static bool continues(const muta_note *from, const muta_note *to)
{
    return muta_pitch_sound(from->pitch) == muta_pitch_sound(to->pitch);
}

/* The open tie that `stop` continues: of its own voice if it can be; count when none does. */
static size_t find_open(const muta_part *part, const ends *open, const struct end *stop,
                        bool over_gap)
{
    const muta_note *const to = &part->notes.at[stop->note];
    size_t found = open->count;

    for (size_t i = 0; i < open->count; i++) {
        const muta_note *const from = &part->notes.at[open->at[i].note];
        const int order = muta_fraction_compare(open->at[i].time, stop->time);
        if (!continues(from, to) || (over_gap ? order >= 0 : order != 0))
            continue;
        if (from->voice == to->voice)
            return i;
        found = i;
    }
    return found;
}

static bool link(muta_part *part, ends *open, const struct end *stop, bool over_gap)
{
    const size_t found = open->at ? find_open(part, open, stop, over_gap) : 0;

    if (!open->at || found == open->count)
        return false;
    part->notes.at[open->at[found].note].tied_to = stop->note;
    part->notes.at[stop->note].tied_from = open->at[found].note;
    open->at[found] = open->at[--open->count];
    return true;
}

/* A stop may stand before its start in the file, in another voice: such wait for the bar's end. */
static muta_status link_bar(muta_score *score, muta_part *part, size_t bar, ends *open,
                            ends *waiting)
{
    const muta_part_bar *const of = &part->bars[bar];
    const muta_fraction start = muta_part_bar_start(score, part, bar);

    waiting->count = 0;
    for (uint32_t i = of->first; i < of->first + of->count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const muta_fraction onset = muta_fraction_add(start, note->onset);
        const struct end stop = {i, onset};
        if ((note->flags & MUTA_NOTE_TIE_STOP) && !link(part, open, &stop, false)) {
            struct end *const end = MUTA_PUSH(&part->arena, waiting);
            if (!end)
                return MUTA_E_MEMORY;
            *end = stop;
        }
        if (note->flags & MUTA_NOTE_TIE_START) {
            struct end *const end = MUTA_PUSH(&part->arena, open);
            if (!end)
                return MUTA_E_MEMORY;
            *end = (struct end){i, muta_fraction_add(onset, note->duration)};
        }
    }
    for (size_t i = 0; i < waiting->count; i++)
        if (!link(part, open, &waiting->at[i], false))
            (void)link(part, open, &waiting->at[i], true);
    return MUTA_OK;
}

/* Ties that ended before this moment can find no partner any more. */
static void drop_stale(ends *open, muta_fraction before)
{
    size_t kept = 0;

    for (size_t i = 0; i < open->count; i++)
        if (muta_fraction_compare(open->at[i].time, before) >= 0)
            open->at[kept++] = open->at[i];
    open->count = kept;
}

muta_status muta_part_link_ties(muta_score *score, muta_part *part)
{
    ends open = {0};
    ends waiting = {0};

    for (size_t bar = 0; bar < part->bar_count; bar++) {
        MUTA_TRY(link_bar(score, part, bar, &open, &waiting));
        drop_stale(&open, muta_part_bar_start(score, part, bar));
    }
    return MUTA_OK;
}
