/* stem.c: stems that the new pitch wants the other way. */
#include "notate/notate.h"

/* How far the notes of a stem, or of a beam, lie from the middle line. */
struct extent {
    int32_t above;
    int32_t below;
};

static void widen(struct extent *extent, muta_pitch pitch, int32_t middle)
{
    const int32_t above = pitch.place - middle;

    extent->above = above > extent->above ? above : extent->above;
    extent->below = -above > extent->below ? -above : extent->below;
}

/* OTHER when both directions are good. */
static muta_stem wanted(const struct extent *extent)
{
    return extent->above > extent->below   ? MUTA_STEM_DOWN
           : extent->below > extent->above ? MUTA_STEM_UP
                                           : MUTA_STEM_OTHER;
}

/* The first note behind a group: a chord, or chords under one beam. */
static uint32_t end_of_group(const muta_part *part, uint32_t first, uint32_t end)
{
    const bool beamed = part->notes.at[first].flags & MUTA_NOTE_BEAMED;
    uint32_t next = first + 1;

    while (next < end) {
        const uint32_t flags = part->notes.at[next].flags;
        const bool same_stem = flags & MUTA_NOTE_CHORD;
        const bool same_beam =
            beamed && (flags & MUTA_NOTE_BEAMED) && !(flags & MUTA_NOTE_BEAM_BEGIN);
        if (!same_stem && !same_beam && !(beamed && (flags & MUTA_NOTE_GRACE)))
            break;
        next++;
    }
    return next;
}

/* Grace notes have stems of their own; rests have none. */
static bool has_stem(const muta_note *note)
{
    return !(note->flags & (MUTA_NOTE_REST | MUTA_NOTE_GRACE)) && note->stem != MUTA_STEM_OTHER;
}

/* Whether one of the notes was written anew: then nothing of the old stems counts. */
static bool is_anew(const muta_part *part, uint32_t first, uint32_t end)
{
    for (uint32_t i = first; i < end; i++)
        if (part->notes.at[i].changed & MUTA_CHANGED_TIME)
            return true;
    return false;
}

/* A stem that did not follow the rule before was the composer's choice and stays. */
static void turn_group(muta_part *part, uint32_t first, uint32_t end)
{
    struct extent old = {INT32_MIN, INT32_MIN};
    struct extent now = {INT32_MIN, INT32_MIN};
    const muta_note *const head = &part->notes.at[first];
    const muta_moment at = {head->bar, head->staff, head->onset};
    const muta_clef_change *const clef = muta_part_clef_at(part, at);
    const int32_t middle = clef ? clef->middle : 34;

    for (uint32_t i = first; i < end; i++) {
        const muta_note *const note = &part->notes.at[i];
        if (note->flags & (MUTA_NOTE_REST | MUTA_NOTE_GRACE))
            continue;
        if (note->staff != head->staff || (note->stem != head->stem && !is_anew(part, first, end)))
            return;
        widen(&old, note->old, middle);
        widen(&now, note->pitch, middle);
    }
    const muta_stem was = is_anew(part, first, end) ? MUTA_STEM_OTHER : wanted(&old);
    /* On the middle line, or as far above as below, stems go down as a rule. */
    const muta_stem is = wanted(&now) == MUTA_STEM_UP ? MUTA_STEM_UP : MUTA_STEM_DOWN;
    if ((is == (muta_stem)head->stem && !is_anew(part, first, end)) ||
        (was != MUTA_STEM_OTHER && was != (muta_stem)head->stem))
        return;
    for (uint32_t i = first; i < end; i++)
        if (has_stem(&part->notes.at[i]))
            muta_note_set_stem(&part->notes.at[i], is);
}

/* Voices that share a staff keep their sides; notes that came under one beam take one side. */
static void agree(muta_part *part, uint32_t first, uint32_t end)
{
    size_t up = 0;
    size_t down = 0;

    for (uint32_t i = first; i < end; i++) {
        up += has_stem(&part->notes.at[i]) && part->notes.at[i].stem == MUTA_STEM_UP;
        down += has_stem(&part->notes.at[i]) && part->notes.at[i].stem == MUTA_STEM_DOWN;
        if (part->notes.at[i].staff != part->notes.at[first].staff)
            return;
    }
    for (uint32_t i = first; i < end && up > 0 && down > 0; i++)
        if (has_stem(&part->notes.at[i]))
            muta_note_set_stem(&part->notes.at[i], up >= down ? MUTA_STEM_UP : MUTA_STEM_DOWN);
}

/* Which voice shows something on each staff of a bar: none, one, or more than one. */
struct staves {
    int32_t voice[UINT8_MAX + 1];
};

enum {
    NO_VOICE = -1,
    SEVERAL = -2
};

static void look_at_staves(const muta_part *part, const muta_part_bar *bar, struct staves *staves)
{
    for (size_t staff = 0; staff <= part->staves && staff <= UINT8_MAX; staff++)
        staves->voice[staff] = NO_VOICE;
    for (uint32_t i = bar->first; i < bar->first + bar->count; i++) {
        const muta_note *const note = &part->notes.at[i];
        int32_t *const voice = &staves->voice[note->staff];
        if (!(note->flags & MUTA_NOTE_HIDDEN) && *voice != note->voice)
            *voice = *voice == NO_VOICE ? note->voice : SEVERAL;
    }
}

/* Whether a note stands on another line or space than before. */
static bool has_moved(const muta_part *part, uint32_t first, uint32_t end)
{
    for (uint32_t i = first; i < end; i++)
        if (part->notes.at[i].pitch.place != part->notes.at[i].old.place ||
            (part->notes.at[i].changed & MUTA_CHANGED_TIME))
            return true;
    return false;
}

static void turn_bar(muta_part *part, const muta_part_bar *bar)
{
    const uint32_t end = bar->first + bar->count;
    struct staves staves;
    uint32_t next;

    if (!has_moved(part, bar->first, end))
        return;
    look_at_staves(part, bar, &staves);
    for (uint32_t i = bar->first; i < end; i = next) {
        const muta_note *const head = &part->notes.at[i];
        next = end_of_group(part, i, end);
        if (!has_stem(head) || !has_moved(part, i, next))
            continue;
        if (staves.voice[head->staff] != SEVERAL)
            turn_group(part, i, next);
        else if (is_anew(part, i, next))
            agree(part, i, next);
    }
}

void muta_notate_stems(muta_part *part)
{
    for (size_t bar = 0; bar < part->bar_count; bar++)
        turn_bar(part, &part->bars[bar]);
}
