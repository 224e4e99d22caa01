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
        const uint16_t flags = part->notes.at[next].flags;
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

/* A stem that did not follow the rule before was the composer's choice and stays. */
static void turn_group(muta_part *part, uint32_t first, uint32_t end)
{
    struct extent old = {INT32_MIN, INT32_MIN};
    struct extent now = {INT32_MIN, INT32_MIN};
    const muta_note *const head = &part->notes.at[first];
    const muta_moment at = {head->bar, head->staff, head->onset};
    const muta_clef_change *const clef = muta_part_clef_at(part, at);
    const int32_t middle = clef ? clef->middle : 34;
    bool changed = false;

    for (uint32_t i = first; i < end; i++) {
        const muta_note *const note = &part->notes.at[i];
        if (note->flags & (MUTA_NOTE_REST | MUTA_NOTE_GRACE))
            continue;
        if (note->staff != head->staff || note->stem != head->stem)
            return;
        widen(&old, note->old, middle);
        widen(&now, note->pitch, middle);
        changed = changed || (note->changed & MUTA_CHANGED_PITCH);
    }
    const muta_stem was = wanted(&old);
    const muta_stem is = wanted(&now);
    if (!changed || is == MUTA_STEM_OTHER || is == (muta_stem)head->stem ||
        (was != MUTA_STEM_OTHER && was != (muta_stem)head->stem))
        return;
    for (uint32_t i = first; i < end; i++)
        if (has_stem(&part->notes.at[i]))
            muta_note_set_stem(&part->notes.at[i], is);
}

/* Whether no other voice shows anything on this staff in the bar. */
static bool is_alone(const muta_part *part, const muta_part_bar *bar, const muta_note *note)
{
    for (uint32_t i = bar->first; i < bar->first + bar->count; i++) {
        const muta_note *const other = &part->notes.at[i];
        if (other->staff == note->staff && other->voice != note->voice &&
            !(other->flags & MUTA_NOTE_HIDDEN))
            return false;
    }
    return true;
}

static void turn_bar(muta_part *part, const muta_part_bar *bar)
{
    const uint32_t end = bar->first + bar->count;
    uint32_t next;

    for (uint32_t i = bar->first; i < end; i = next) {
        next = end_of_group(part, i, end);
        bool changed = false;
        for (uint32_t j = i; j < next; j++)
            changed = changed || (part->notes.at[j].changed & MUTA_CHANGED_PITCH);
        if (changed && has_stem(&part->notes.at[i]) && is_alone(part, bar, &part->notes.at[i]))
            turn_group(part, i, next);
    }
}

void muta_notate_stems(muta_score *score)
{
    for (size_t i = 0; i < score->part_count; i++)
        for (size_t bar = 0; bar < score->parts[i].bar_count; bar++)
            turn_bar(&score->parts[i], &score->parts[i].bars[bar]);
}
