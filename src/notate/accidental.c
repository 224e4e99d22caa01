/* accidental.c: the signs that a reader needs after pitches or signatures changed, and no more. */
#include "notate/notate.h"
#include <stdlib.h>
#include <string.h>

enum {
    PLACES = 256,
    LOWEST = 64,
    UNSET = INT32_MAX
};

/* What the signs so far in the bar say, for each place on the diatonic line. */
struct state {
    int32_t alter[PLACES];
};

/*
 * A reading of a bar. Before anything is written it is read as it was, to remember which notes
 * needed a sign; then as it is.
 */
struct reading {
    const muta_part *part;
    struct state state;
    struct state before; /* what the bar before it ended with, on the same staff */
    bool is_past;
};

static void reset(struct state *state)
{
    for (size_t i = 0; i < PLACES; i++)
        state->alter[i] = UNSET;
}

static size_t slot(muta_pitch pitch)
{
    const int32_t at = pitch.place + LOWEST;

    return at < 0 ? 0 : at >= PLACES ? PLACES - 1 : (size_t)at;
}

/*
 * Whether a reader would play another pitch if no sign stood before the note; then enters what the
 * note says. Hidden notes say nothing, and a tied one neither needs nor gives a sign.
 */
static bool needs_sign(struct state *state, muta_pitch pitch, int32_t fifths, const muta_note *note,
                       bool tied)
{
    int32_t *const held = &state->alter[slot(pitch)];
    const int32_t in_force =
        *held == UNSET ? muta_key_sharps(fifths, muta_pitch_step(pitch)) * MUTA_SEMITONE : *held;

    if (tied || (note->flags & MUTA_NOTE_HIDDEN))
        return false;
    *held = pitch.alter;
    return pitch.alter != in_force;
}

/*
 * The composer's courtesies stay, and so does a sign that the file left out, if nothing moved.
 * Where the signature is another a sign without need reminds of what is no more, unless it is
 * marked as a courtesy.
 */
static void decide(muta_note *note, bool needed, bool is_stale)
{
    const bool old_needed = note->flags & MUTA_NOTE_NEEDED;
    const bool shown = note->sign != MUTA_SIGN_NONE;
    const bool courtesy =
        shown && ((note->flags & MUTA_NOTE_COURTESY) || (!old_needed && !is_stale));
    const bool anew = note->changed & (MUTA_CHANGED_PITCH | MUTA_CHANGED_TIME);
    const bool moved =
        anew && ((note->changed & MUTA_CHANGED_TIME) || note->pitch.alter != note->old.alter ||
                 note->pitch.place != note->old.place);

    if (note->sign == MUTA_SIGN_OTHER && note->pitch.alter == note->old.alter)
        return;
    if (!needed && !courtesy)
        muta_note_set_sign(note, MUTA_SIGN_NONE);
    else if (shown || moved || !old_needed)
        muta_note_set_sign(note, muta_sign_of(note->pitch.alter));
}

/*
 * A tone written anew is reminded of by a courtesy sign where the bar before had another sign on
 * its line or space. Source: common practice.
 */
static bool is_reminded(const struct reading *reading, const muta_note *note)
{
    const int32_t before = reading->before.alter[slot(note->pitch)];

    return (note->changed & MUTA_CHANGED_TIME) && note->sign == MUTA_SIGN_NONE &&
           !muta_note_is_tied(note) && !(note->flags & (MUTA_NOTE_HIDDEN | MUTA_NOTE_GRACE)) &&
           before != UNSET && before != note->pitch.alter;
}

static void read_note(struct reading *reading, muta_note *note, bool decides)
{
    const muta_moment at = {note->bar, note->staff, note->onset};
    const muta_key_change *const key = muta_part_key_at(reading->part, at);

    if (reading->is_past) {
        if (needs_sign(&reading->state, note->old, key ? key->old.fifths : 0, note,
                       muta_note_was_tied(note)))
            note->flags |= MUTA_NOTE_NEEDED;
        else
            note->flags &= ~(uint32_t)MUTA_NOTE_NEEDED;
        return;
    }
    const bool first = reading->state.alter[slot(note->pitch)] == UNSET;
    const bool needed = needs_sign(&reading->state, note->pitch, key ? key->key.fifths : 0, note,
                                   muta_note_is_tied(note));
    if (!decides || (note->flags & MUTA_NOTE_TAB))
        return;
    const int32_t before = reading->before.alter[slot(note->pitch)];
    const bool is_stale =
        key && key->old.mode != key->key.mode && (before == UNSET || before == note->pitch.alter);
    decide(note, needed, is_stale);
    if (first && !needed && is_reminded(reading, note)) {
        note->flags |= MUTA_NOTE_COURTESY;
        muta_note_set_sign(note, muta_sign_of(note->pitch.alter));
    }
}

/* By staff, then by onset; equal ones as in the file, where they lie one behind another. */
static int by_staff_and_onset(const void *a, const void *b)
{
    const muta_note *const one = *(muta_note *const *)a;
    const muta_note *const two = *(muta_note *const *)b;
    const int onsets = muta_fraction_compare(one->onset, two->onset);

    if (one->staff != two->staff)
        return one->staff < two->staff ? -1 : 1;
    return onsets ? onsets : one < two ? -1 : one > two;
}

/* The notes of a bar that have pitch, in the order in which a reader meets them. */
static size_t gather(const muta_part *part, const muta_part_bar *bar, muta_note **order)
{
    size_t count = 0;

    for (uint32_t i = bar->first; i < bar->first + bar->count; i++)
        if (!(part->notes.at[i].flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED)))
            order[count++] = &part->notes.at[i];
    qsort(order, count, sizeof(muta_note *), by_staff_and_onset);
    return count;
}

/* From this moment on the staff is looked at again; invalid when nothing changed on it. */
static muta_fraction first_change(muta_note *const *notes, size_t count, bool from_start)
{
    if (from_start)
        return MUTA_ZERO;
    for (size_t i = 0; i < count; i++)
        if (notes[i]->changed & (MUTA_CHANGED_PITCH | MUTA_CHANGED_TIE))
            return notes[i]->onset;
    return (muta_fraction){0, 0};
}

/* What was last said of each line and space in the bar before, in the order of time. */
static void read_bar_before(struct reading *reading, const muta_note *note)
{
    const muta_part *const part = reading->part;
    muta_fraction when[PLACES];

    reset(&reading->before);
    for (size_t i = 0; i < PLACES; i++)
        when[i] = MUTA_ZERO;
    if (note->bar == 0)
        return;
    const muta_part_bar *const bar = &part->bars[note->bar - 1];
    for (uint32_t i = bar->first; i < bar->first + bar->count; i++) {
        const muta_note *const of = &part->notes.at[i];
        const size_t at = slot(of->pitch);
        if (of->staff != note->staff ||
            (of->flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED | MUTA_NOTE_HIDDEN)) ||
            (reading->before.alter[at] != UNSET && muta_fraction_compare(of->onset, when[at]) < 0))
            continue;
        reading->before.alter[at] = of->pitch.alter;
        when[at] = of->onset;
    }
}

static void read_staff(struct reading *reading, muta_note *const *notes, size_t count,
                       bool from_start)
{
    const muta_fraction from = first_change(notes, count, from_start);

    if (!reading->is_past && !muta_fraction_is_valid(from))
        return;
    if (!reading->is_past && count > 0)
        read_bar_before(reading, notes[0]);
    reset(&reading->state);
    for (size_t i = 0; i < count; i++)
        read_note(reading, notes[i], muta_fraction_compare(notes[i]->onset, from) >= 0);
}

static bool is_touched(const muta_part *part, const muta_part_bar *bar)
{
    for (uint32_t i = bar->first; i < bar->first + bar->count; i++)
        if (part->notes.at[i].changed & (MUTA_CHANGED_PITCH | MUTA_CHANGED_TIE | MUTA_CHANGED_TIME))
            return true;
    return bar->is_touched;
}

static void read_bar(struct reading *reading, const muta_part_bar *bar, muta_note **order,
                     bool from_start)
{
    const size_t count = gather(reading->part, bar, order);
    size_t next;

    for (size_t first = 0; first < count; first = next) {
        for (next = first; next < count && order[next]->staff == order[first]->staff; next++)
            ;
        read_staff(reading, order + first, next - first, from_start);
    }
}

static muta_status read_part(const muta_part *part, const muta_keys_span *keys, bool is_past)
{
    struct reading reading = {.part = part, .is_past = is_past};
    size_t most = 0;

    for (size_t bar = 0; bar < part->bar_count; bar++)
        most = part->bars[bar].count > most ? part->bars[bar].count : most;
    muta_note **const order = malloc((most + 1) * sizeof(muta_note *));
    if (!order)
        return MUTA_E_MEMORY;
    for (uint32_t bar = 0; bar < part->bar_count; bar++) {
        const muta_part_bar *const of = &part->bars[bar];
        const muta_moment at = {bar, MUTA_ALL_STAVES, MUTA_ZERO};
        const bool moved =
            muta_moment_compare(keys->from, at) <= 0 && muta_moment_compare(at, keys->to) < 0;
        if (moved || is_touched(part, of))
            read_bar(&reading, of, order, moved || of->is_touched);
    }
    free(order);
    return MUTA_OK;
}

muta_status muta_notate_remember(muta_part *part, const muta_keys_span *keys)
{
    return read_part(part, keys, true);
}

muta_status muta_notate_accidentals(muta_part *part, const muta_keys_span *keys)
{
    return read_part(part, keys, false);
}
